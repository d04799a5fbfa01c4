package target

import (
	"fmt"
	"strings"
)

// Address is a channel's `to` taken apart.
type Address struct {
	Scheme string // file, hand, mem or s3
	Path   string // file and hand: the folder, as typed; mem: a name; s3: the bucket
	Store  Store  // s3 only
}

// Unsupported is an address that is right but is no place to release to.
type Unsupported struct{ Address string }

func (u *Unsupported) Error() string {
	return fmt.Sprintf("%s: places in memory are for trying things out; name a folder, an outbox or a store", u.Address)
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
		store, err := ParseStore(to)
		if err != nil {
			return Address{}, err
		}
		return Address{Scheme: scheme, Path: strings.TrimPrefix(store.String(), "s3://"), Store: store}, nil
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
