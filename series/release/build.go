package release

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"io/fs"
	"slices"
	"strings"
)

// Builder reads designs and packs bundles.
type Builder interface {
	// Build reads, measures and judges a design. at is the series' folder as history keeps it, nil for the
	// folder as it lies there. words are the maker's words for errors of this revision: those that let an
	// error pass are printed in the sheet.
	Build(ctx context.Context, design string, at fs.FS, words []Word) (*Built, error)

	// Content is the digest of everything that the manifest names, as it lies there now: it tells whether a
	// file changed while the bundles were packed.
	Content(ctx context.Context, design string, at fs.FS) (string, error)
}

// Built is a design that is ready to be packed.
type Built struct {
	Revision string
	Content  string   // see Builder.Content, as it was when the design was measured
	Files    []string // what the bundles are made from, paths from the series' folder: must be committed
	Faults   []Fault  // findings of level error
	Bundles  []Bundle // one for each kind: early, public
}

// Fault is a finding of level error.
type Fault struct{ Code, Text string }

// Bundle is what one kind of audience gets.
type Bundle struct {
	Audience string
	Items    []Item
}

// Item is one file of a bundle. Write packs it and returns its content digest in hex, "" if that is the
// SHA-256 of its bytes.
type Item struct {
	Name  string
	Write func(ctx context.Context, w io.Writer) (digest string, err error)
}

// contentOf is the digest of a bundle's files: the SHA-256 of a line each, sorted by name. It stays the same
// when another version of the program compresses differently.
func contentOf(digests map[string]string) string {
	var lines []string
	for name, digest := range digests {
		lines = append(lines, digest+" "+name+"\n")
	}
	slices.SortFunc(lines, func(a, b string) int { return strings.Compare(a[strings.Index(a, " "):], b[strings.Index(b, " "):]) })
	h := sha256.New()
	io.WriteString(h, "dropwright-drop-1\n")
	for _, l := range lines {
		io.WriteString(h, l)
	}
	return hex.EncodeToString(h.Sum(nil))
}

// Passable says whether the maker's word can let an error of a code pass. It cannot where others would be
// harmed or a promise broken: the embargo, hashes and revisions, privacy, mains and lithium; nor where the
// manifest cannot be read as meant.
func Passable(code string) bool {
	for _, word := range []string{"embargo", "revision", "digest", "hash", "content", "private", "privacy", "located", "leak", "mains", "lithium", "cell",
		"text-unreadable", "yaml-feature", "key-", "value-", "name-", "path-outside", "mesh-unreadable", "mesh-missing", "mesh-empty", "file-missing", "file-pointer", "photo-unreadable"} {
		if strings.Contains(code, word) {
			return false
		}
	}
	return true
}

// Word is the maker's word for an error.
type Word struct{ Code, Because string }

// Refusal is a rule that stands in the way; Hint says what to do.
type Refusal struct{ Why, Hint string }

func (r *Refusal) Error() string { return r.Why }

func refuse(hint, format string, args ...any) error {
	return &Refusal{fmt.Sprintf(format, args...), hint}
}

// Faulty is a design with errors: it is not released.
type Faulty struct {
	Design string
	Faults []Fault
}

func (f *Faulty) Error() string {
	if len(f.Faults) == 1 {
		return fmt.Sprintf("%s has 1 error: %s [%s]", f.Design, f.Faults[0].Text, f.Faults[0].Code)
	}
	return fmt.Sprintf("%s has %d errors, the first: %s [%s]", f.Design, len(f.Faults), f.Faults[0].Text, f.Faults[0].Code)
}

// Uncommitted are files of a design that could not be found again in its history.
type Uncommitted struct {
	Design string
	Files  []string // path and why
}

func (u *Uncommitted) Error() string {
	return fmt.Sprintf("%s: files that go out are not committed as they lie there:\n    %s", u.Design, strings.Join(u.Files, "\n    "))
}

// Lost is a file of a fixed bundle that the store does not hold any more.
type Lost struct{ Name, SHA256 string }

func (l *Lost) Error() string {
	return fmt.Sprintf("the store has lost %q (SHA-256 %.12s)", l.Name, l.SHA256)
}
