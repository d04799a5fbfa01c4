// Package target says what a place for releases must do. A place is a folder, a store in the network, or
// an outbox that a person posts from; each is one implementation in a folder below, and all pass the one
// conformance suite in targettest.
//
// A target holds objects: named byte strings. It knows nothing of designs, dates or audiences, except that
// one object, the [Marker], says whose it is. It never deletes: what went out stays; withdrawing is a mark
// in the index.
//
// Two ways of writing exist. Create is for everything that may not change once it is out: it never
// overwrites. Replace is for the index, the feeds and the pages, which are written last.
package target

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"strings"
)

// Target is a place. Implementations are safe for concurrent use by several processes, as far as Create
// goes. Errors name the target and the object.
type Target interface {
	// String names the place for messages. It holds no secrets.
	String() string

	// Stat tells an object's size. A missing one gives an error that is fs.ErrNotExist.
	Stat(ctx context.Context, name string) (Info, error)

	// Open reads an object as it is when opened. A missing one gives an error that is fs.ErrNotExist. The
	// caller closes it.
	Open(ctx context.Context, name string) (io.ReadCloser, error)

	// Create stores an object that must not exist yet, and returns when it is durable. The content is
	// opened once or more and read to its end; if it is not of the size and hash that it claims, nothing is
	// stored. Readers see no object or the whole one.
	//
	// Create is idempotent: if the object exists with the same bytes, however it came there, that is
	// success. With other bytes it is a [*Conflict] and the old object stays. Of several writers at once
	// exactly one content wins.
	//
	// After any other error the object may or may not be there; to call Create again is right.
	Create(ctx context.Context, name string, c Content) error

	// Replace stores an object whether or not it exists, and returns when it is durable. Readers see the
	// old object or the new one, never a mixture and never none if there was one.
	Replace(ctx context.Context, name string, data []byte) error

	// List tells all objects sorted by name, without leftovers of interrupted writes.
	List(ctx context.Context) ([]Info, error)

	// Sweep removes leftovers of interrupted writes. Only the holder of the series' lock calls it.
	Sweep(ctx context.Context) error
}

// Info is an object's name and size in bytes.
type Info struct {
	Name  string
	Bytes int64
}

// Content is what Create stores: Open may be called several times and must give the same bytes each time.
type Content struct {
	Bytes  int64
	SHA256 string // hex
	Open   func() (io.ReadCloser, error)
}

// Text is a content held in memory.
func Text(data []byte) Content {
	sum := sha256.Sum256(data)
	return Content{int64(len(data)), hex.EncodeToString(sum[:]), func() (io.ReadCloser, error) {
		return io.NopCloser(strings.NewReader(string(data))), nil
	}}
}

// Copy writes the content and checks its size and hash: an error means that what was written must be
// thrown away. It stops when the context ends.
func (c Content) Copy(ctx context.Context, w io.Writer) error {
	r, err := c.Open()
	if err != nil {
		return err
	}
	defer r.Close()
	hash := sha256.New()
	// One byte more than promised is enough to find a source that does not end.
	n, err := io.Copy(io.MultiWriter(w, hash), io.LimitReader(withContext{ctx, r}, c.Bytes+1))
	if err != nil {
		return err
	}
	if sum := hex.EncodeToString(hash.Sum(nil)); n != c.Bytes || sum != c.SHA256 {
		return &Changed{Want: c.SHA256, Got: sum}
	}
	return nil
}

type withContext struct {
	ctx context.Context
	r   io.Reader
}

func (w withContext) Read(p []byte) (int, error) {
	if err := w.ctx.Err(); err != nil {
		return 0, err
	}
	return w.r.Read(p)
}

// Changed is a content that is not what its hash says: the source was changed after it was fixed.
type Changed struct{ Want, Got string }

func (c *Changed) Error() string {
	return fmt.Sprintf("the content has changed since it was fixed: SHA-256 %.12s was promised, %.12s came", c.Want, c.Got)
}

// Conflict is an object that exists with other bytes.
type Conflict struct{ Target, Name string }

func (c *Conflict) Error() string {
	return fmt.Sprintf("%s already holds %q with other content; what went out is never changed: raise the revision, or move that file away if it is not ours", c.Target, c.Name)
}

// CheckName says whether an object may have a name: slash-separated segments of letters, digits, dot,
// hyphen and underscore, none beginning with a dot or hyphen, at most 200 bytes. Such names mean the same
// on every file system, store and web server; names inside bundles are another matter.
func CheckName(name string) error {
	if name == "" || len(name) > 200 {
		return fmt.Errorf("an object's name has 1 to 200 bytes, this one %d", len(name))
	}
	for segment := range strings.SplitSeq(name, "/") {
		if segment == "" || segment[0] == '.' || segment[0] == '-' || strings.HasSuffix(segment, ".") {
			return fmt.Errorf("%q cannot be an object's name: the segment %q is empty, begins with a dot or hyphen, or ends with a dot", name, segment)
		}
		for i := range len(segment) {
			c := segment[i]
			if !('a' <= c && c <= 'z' || 'A' <= c && c <= 'Z' || '0' <= c && c <= '9' || c == '.' || c == '-' || c == '_') {
				return fmt.Errorf("%q cannot be an object's name: only letters, digits, dot, hyphen and underscore are possible", name)
			}
		}
	}
	return nil
}

// Holds says whether an object exists with exactly a content's bytes, by reading it. A missing object is
// false without an error, one with other bytes a [*Conflict].
func Holds(ctx context.Context, t Target, name string, c Content) (bool, error) {
	info, err := t.Stat(ctx, name)
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil
	} else if err != nil {
		return false, err
	}
	if info.Bytes != c.Bytes {
		return false, &Conflict{t.String(), name}
	}
	sum, err := Sum(ctx, t, name)
	if err != nil {
		return false, err
	}
	if sum != c.SHA256 {
		return false, &Conflict{t.String(), name}
	}
	return true, nil
}

// Sum reads an object and gives its SHA-256 in hex.
func Sum(ctx context.Context, t Target, name string) (string, error) {
	r, err := t.Open(ctx, name)
	if err != nil {
		return "", err
	}
	defer r.Close()
	hash := sha256.New()
	if _, err := io.Copy(hash, withContext{ctx, r}); err != nil {
		return "", fmt.Errorf("%s: reading %q: %w", t, name, err)
	}
	return hex.EncodeToString(hash.Sum(nil)), nil
}

// Read reads a small object of at most limit bytes.
func Read(ctx context.Context, t Target, name string, limit int64) ([]byte, error) {
	r, err := t.Open(ctx, name)
	if err != nil {
		return nil, err
	}
	defer r.Close()
	data, err := io.ReadAll(io.LimitReader(withContext{ctx, r}, limit+1))
	if err != nil {
		return nil, fmt.Errorf("%s: reading %q: %w", t, name, err)
	}
	if int64(len(data)) > limit {
		return nil, fmt.Errorf("%s: %q is larger than %d bytes", t, name, limit)
	}
	return data, nil
}
