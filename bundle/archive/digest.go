package archive

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"sort"
	"strings"
)

// Hash is a SHA-256.
type Hash [sha256.Size]byte

// String is the hash in 64 lower-case hex digits.
func (h Hash) String() string { return hex.EncodeToString(h[:]) }

// MarshalText is String, so that a hash prints in JSON as people write it.
func (h Hash) MarshalText() ([]byte, error) { return []byte(h.String()), nil }

// UnmarshalText reads 64 lower-case hex digits.
func (h *Hash) UnmarshalText(text []byte) error {
	got, err := ParseHash(string(text))
	if err == nil {
		*h = got
	}
	return err
}

// ParseHash reads 64 lower-case hex digits. Upper case is refused: one hash has one spelling.
func ParseHash(s string) (Hash, error) {
	var h Hash
	if len(s) != 2*len(h) || strings.ToLower(s) != s {
		return h, fmt.Errorf("%q is not a SHA-256 in 64 lower-case hex digits", s)
	}
	if _, err := hex.Decode(h[:], []byte(s)); err != nil {
		return h, fmt.Errorf("%q is not a SHA-256 in 64 lower-case hex digits", s)
	}
	return h, nil
}

// File is what is known of one file of a bundle: its path below the top folder, its size in bytes,
// its SHA-256.
type File struct {
	Path   string `json:"path"`
	Size   int64  `json:"size"`
	SHA256 Hash   `json:"sha256"`
}

// contentHeader is the first line of the text that is hashed. It would change if the format did;
// the format does not change.
const contentHeader = "dropwright-content-1\n"

// Digest is the content digest of files, in the format of the package comment. The order of files
// does not matter and is left as it is; SHA256SUMS and SHA256SUMS.sig are passed over.
func Digest(files []File) Hash {
	h := sha256.New()
	h.Write([]byte(contentHeader))
	for _, f := range sorted(files) {
		if f.Path != SumsName && f.Path != SignatureName {
			fmt.Fprintf(h, "%s %d %s\n", f.SHA256, f.Size, f.Path)
		}
	}
	return Hash(h.Sum(nil))
}

// Sums is the text of SHA256SUMS for files, as GNU sha256sum -c reads it: 64 hex digits, two
// spaces, path; LF line ends; sorted by the bytes of the path.
func Sums(files []File) []byte {
	var b strings.Builder
	for _, f := range sorted(files) {
		if f.Path != SumsName && f.Path != SignatureName {
			fmt.Fprintf(&b, "%s  %s\n", f.SHA256, f.Path)
		}
	}
	return []byte(b.String())
}

// ParseSums reads a SHA256SUMS as strictly as Sums writes it, save that the "*" of binary mode is
// read too. sha256sum itself passes over lines it does not understand; a list that is to be trusted
// must not have any, so every bad line is a problem.
func ParseSums(text []byte) (map[string]Hash, []Problem) {
	sums := map[string]Hash{}
	var list []Problem
	bad := func(n int, format string, args ...any) {
		list = append(list, Problem{BadSums, SumsName, fmt.Sprintf("line %d: ", n) + fmt.Sprintf(format, args...)})
	}
	rest := string(text)
	if rest != "" && !strings.HasSuffix(rest, "\n") {
		list = append(list, Problem{BadSums, SumsName, "the last line has no line end: the list is cut short"})
	}
	last := ""
	for n := 1; rest != ""; n++ {
		var line string
		line, rest, _ = strings.Cut(rest, "\n")
		if strings.HasSuffix(line, "\r") {
			bad(n, "ends with CR LF; the list is written with LF")
			line = strings.TrimSuffix(line, "\r")
		}
		if len(line) < 67 || line[64] != ' ' || (line[65] != ' ' && line[65] != '*') {
			bad(n, "not 64 hex digits, two spaces and a path")
			continue
		}
		hash, err := ParseHash(line[:64])
		if err != nil {
			bad(n, "%v", err)
			continue
		}
		path := line[66:]
		if probs := checkPath("", path); len(probs) > 0 {
			bad(n, "%s", probs[0])
			continue
		}
		if _, dup := sums[path]; dup {
			bad(n, "%q stands twice", path)
			continue
		}
		if path < last {
			bad(n, "%q is out of order", path)
		}
		last = path
		sums[path] = hash
	}
	return sums, list
}

func sorted(files []File) []File {
	out := make([]File, len(files))
	copy(out, files)
	sort.Slice(out, func(i, j int) bool { return out[i].Path < out[j].Path })
	return out
}
