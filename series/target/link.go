package target

import (
	"context"
	"time"
)

// MaxLink is the longest life of a link: SigV4 allows 604,800 s (S3 API, "Authenticating Requests: Using Query
// Parameters").
const MaxLink = 7 * 24 * time.Hour

// Linker is a target that can give a stranger access to one object for a while.
type Linker interface {
	// Link makes an address that reads one object, for a life of at most MaxLink. It asks the store nothing, so
	// that a missing object shows only to whoever follows it.
	Link(ctx context.Context, name string, life time.Duration) (Link, error)
}

// Link is an address that is itself a key: whoever holds it reads the object until it expires, as often as they
// like. It goes to those it is meant for, and into no page, feed, ledger or log.
type Link struct {
	Name  string // the object
	URL   string
	Until time.Time
	// Borrowed says that it was signed with a key that itself expires, perhaps earlier than Until.
	Borrowed bool
}

// String keeps the address out of messages.
func (l Link) String() string { return "a link to " + l.Name }

// GoString keeps %#v from printing more.
func (l Link) GoString() string { return l.String() }

// Guarded is a target that can be asked whether it keeps strangers out.
type Guarded interface {
	// Exposed says whether somebody without a key can read an object that is there.
	Exposed(ctx context.Context, name string) (bool, error)
}

// Marked is a target whose objects bear a mark that changes whenever they are written, so that they need not be read
// to know that they are what they were.
type Marked interface {
	// Mark is an object's, "" if the place gave it none. It says nothing of what the object holds: only that one which
	// was read under this mark has not been written since.
	Mark(ctx context.Context, name string) (string, error)
}
