// Package history keeps and reads the revisions of designs: as annotated tags of a git repository, or as
// frozen copies in a folder for a series without git.
//
// It answers four questions: how did a released revision look, when was a file last changed, are the files
// of a drop committed as they lie there, and where is this revision fixed for good. It needs no git
// program. It pushes nothing, moves no tag, rewrites no commit, and runs no hooks.
//
// Conventions: paths are slash-separated and relative to the series' folder, which may lie anywhere inside
// a repository. A revision of a design is the tag `design/vX.Y.Z`. Times of files on the disk are never
// used.
package history

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"regexp"
	"slices"
	"strconv"
	"time"
)

// ErrNoRepository means that the series' folder is in no git repository.
var ErrNoRepository = errors.New("this series is in no git repository: type git init, or write history: folder into series.yaml")

// Keeper is a history. Both kinds have it, so that a release does not ask which.
type Keeper interface {
	// Revisions lists the kept revisions of a design, oldest first.
	Revisions(design string) ([]string, error)

	// At gives the series' folder as it was when a revision was fixed: series.yaml and designs/NAME at
	// least. A revision that is not kept gives an error that is fs.ErrNotExist.
	At(design, revision string) (fs.FS, error)

	// Unclean lists those of the files that are not kept as they lie there, sorted. A folder history keeps
	// what lies there when asked to, and has none.
	Unclean(files []string) ([]Unclean, error)

	// Changed tells when each file was last changed, for files that the history knows.
	Changed(files []string) (map[string]time.Time, error)

	// Freeze fixes a revision. It is idempotent: the same again is success, something else under the same
	// revision is a [*Taken].
	Freeze(Request) (Frozen, error)
}

// Unclean is a file that cannot be found again in the history as it is.
type Unclean struct{ Path, Why string }

// Request is a revision to be fixed.
type Request struct {
	Design, Revision string
	Files            []string // for a folder history: what to copy
	Digest           string   // content digest of the bundle, for the message
	Now              time.Time
	// Sign signs a tag: it gets the tag's text and returns an armoured SSH signature with the namespace
	// "git". nil leaves the tag unsigned.
	Sign func(text []byte) (armoured []byte, err error)
}

// Frozen is a fixed revision.
type Frozen struct {
	Source string // how to find it again: the tag, or the folder
	Commit string // hex, empty for a folder
	Signed bool
}

// ErrNoName means that git's settings name nobody to commit or tag as.
var ErrNoName = errors.New("git does not know who you are")

// Taken is a revision that is fixed already with something else in it.
type Taken struct{ Design, Revision, Why string }

func (t *Taken) Error() string {
	return fmt.Sprintf("revision %s of %q is fixed already, %s: type dropwright revise %s patch \"what changed\"", t.Revision, t.Design, t.Why, t.Design)
}

var (
	nameForm     = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)
	revisionForm = regexp.MustCompile(`^(0|[1-9][0-9]{0,8})\.(0|[1-9][0-9]{0,8})\.(0|[1-9][0-9]{0,8})$`)
)

// checkRevision keeps names that are no design or revision out of paths and tag names.
func checkRevision(design, revision string) error {
	if !nameForm.MatchString(design) {
		return fmt.Errorf("%q is no name of a design", design)
	}
	if !revisionForm.MatchString(revision) {
		return fmt.Errorf("%q is no revision: it is written as in 1.0.0", revision)
	}
	return nil
}

// sortRevisions orders revisions by their numbers: 1.10.0 comes after 1.9.0.
func sortRevisions(revisions []string) {
	numbers := func(r string) (n [3]int) {
		for i, part := range revisionForm.FindStringSubmatch(r)[1:] {
			n[i], _ = strconv.Atoi(part)
		}
		return n
	}
	slices.SortFunc(revisions, func(a, b string) int {
		x, y := numbers(a), numbers(b)
		return slices.CompareFunc(x[:], y[:], cmp.Compare[int])
	})
}
