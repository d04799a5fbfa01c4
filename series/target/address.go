package target

import (
	"fmt"
	"net/url"
	"strings"
)

// Address is a channel's `to` taken apart.
type Address struct {
	Scheme string     // file, hand, mem or s3
	Path   string     // file and hand: the folder, as typed; mem: a name; s3: the bucket
	Query  url.Values // s3 only
}

// Unsupported is an address that is right but cannot be served by this build.
type Unsupported struct{ Address string }

func (u *Unsupported) Error() string {
	return fmt.Sprintf("%s: stores in the network are not in this build; use file: with a mounted or synchronised folder, or hand:", u.Address)
}

// ParseAddress reads `file:../public`, `file:///srv/drops`, `hand:../outbox`, `mem:name` and
// `s3://bucket?region=…`. Paths are taken as typed, without percent decoding; relative ones start at the
// series' folder.
func ParseAddress(to string) (Address, error) {
	scheme, rest, ok := strings.Cut(to, ":")
	if !ok || scheme == "" {
		return Address{}, fmt.Errorf("%q is no place: write file:FOLDER, hand:FOLDER or s3://BUCKET", to)
	}
	switch scheme {
	case "file", "hand":
		path := rest
		if after, ok := strings.CutPrefix(rest, "//"); ok {
			if !strings.HasPrefix(after, "/") {
				return Address{}, fmt.Errorf("%q names a machine: write %s:FOLDER without the slashes, or three slashes for an absolute path", to, scheme)
			}
			path = after
		}
		switch {
		case path == "" || strings.Trim(path, `/\.`) == "" && !strings.Contains(path, ".."):
			return Address{}, fmt.Errorf("%q names no folder of its own: write it as in %s:../outbox/supporters", to, scheme)
		case strings.HasPrefix(path, "~"):
			return Address{}, fmt.Errorf("%q: ~ is a shell's short form: write the folder out", to)
		case strings.ContainsRune(path, 0):
			return Address{}, fmt.Errorf("%q holds a NUL byte", to)
		}
		return Address{Scheme: scheme, Path: path}, nil
	case "mem":
		return Address{Scheme: scheme, Path: rest}, nil
	case "s3":
		u, err := url.Parse(to)
		if err != nil || u.Host == "" {
			return Address{}, fmt.Errorf("the address of the store cannot be read: write s3://BUCKET?region=REGION")
		}
		if u.User != nil {
			return Address{}, fmt.Errorf("the address of bucket %q holds a key: keys come from the environment or the store's own settings file, never from series.yaml", u.Hostname())
		}
		return Address{Scheme: scheme, Path: u.Host + u.Path, Query: u.Query()}, nil
	}
	return Address{}, fmt.Errorf("%q: no places of the kind %q are known: write file:FOLDER, hand:FOLDER or s3://BUCKET", to, scheme)
}

// String writes the address without its query.
func (a Address) String() string {
	if a.Scheme == "s3" {
		return "s3://" + a.Path
	}
	return a.Scheme + ":" + a.Path
}
