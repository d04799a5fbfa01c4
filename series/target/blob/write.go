package blob

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/http"

	"github.com/aws/aws-sdk-go-v2/aws"
	"github.com/aws/aws-sdk-go-v2/feature/s3/transfermanager"
	gocloud "gocloud.dev/blob"

	"dropwright/series/target"
)

// Sizes in bytes.
const (
	partSize  = 8 << 20  // of an upload in parts; two are in memory at a time
	wholeSize = 16 << 20 // what is smaller goes in one request (the uploader's own threshold)
)

// What caches may keep. A released file never changes (RFC 8246); everything else is asked for anew.
const (
	forEver = "max-age=31536000, immutable"
	anew    = "no-cache"
)

// Unconditional is a store that cannot promise to keep what is there.
type Unconditional struct{ Target, Why string }

func (u *Unconditional) Error() string {
	return fmt.Sprintf("%s %s: of two machines that release at once the second could overwrite the first", u.Target, u.Why)
}

// Hint says what to do.
func (u *Unconditional) Hint() string {
	return "take a store that knows conditional writes (If-None-Match), or, if only one machine ever releases, write create=look-first behind the bucket's name in series.yaml"
}

// Damaged is an object that does not read back as it was sent.
type Damaged struct{ Target, Name, Want, Got string }

func (d *Damaged) Error() string {
	return fmt.Sprintf("%s took %q and gives back something else: SHA-256 %.12s was sent, %.12s came back", d.Target, d.Name, d.Want, d.Got)
}

// Create is target.Target's.
func (t *Target) Create(ctx context.Context, name string, c target.Content) error {
	if err := errors.Join(ctx.Err(), target.CheckName(name)); err != nil {
		return err
	}
	if err := t.trust(ctx, name); err != nil {
		return err
	}
	return t.try(ctx, "writing", name, func(ctx context.Context) error {
		// What is there may be the work of a request whose answer was lost.
		there, err := target.Holds(ctx, t, name, c)
		if err != nil {
			return finally(err)
		}
		if there {
			return nil
		}
		err = t.put(ctx, name, upload{content: c, mediaType: target.MediaType(name), cache: t.cache(name), onlyNew: !t.store.LookFirst})
		switch status(err) {
		case http.StatusPreconditionFailed:
			there, err := target.Holds(ctx, t, name, c)
			if err == nil && !there {
				err = fmt.Errorf("%s: %q was there and is gone: another program works in that bucket", t, name)
			}
			return finally(err)
		case http.StatusNotImplemented:
			if !t.store.LookFirst {
				return finally(&Unconditional{t.String(), "does not know conditional writes"})
			}
		}
		if err != nil {
			return err
		}
		return t.readBack(ctx, name, c)
	})
}

// readBack compares what the store holds with what was sent.
func (t *Target) readBack(ctx context.Context, name string, c target.Content) error {
	sum, err := target.Sum(ctx, t, name)
	if errors.Is(err, fs.ErrNotExist) {
		return err // some stores show a little later what they hold
	} else if err != nil {
		return finally(err)
	}
	if sum != c.SHA256 {
		return finally(&Damaged{t.String(), name, c.SHA256, sum})
	}
	return nil
}

// trust makes sure, once, that the store refuses to overwrite: the marker is written once more, with its own
// bytes and on the condition that it is not there, which must fail. A store that ignores the condition takes it.
func (t *Target) trust(ctx context.Context, name string) error {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.trusted || t.store.LookFirst || name == target.MarkerName {
		return nil
	}
	data, err := target.Read(ctx, t, target.MarkerName, 4096)
	if errors.Is(err, fs.ErrNotExist) {
		return nil // nothing to try it on yet: nothing was released here
	} else if err != nil {
		return err
	}
	err = t.try(ctx, "trying", target.MarkerName, func(ctx context.Context) error {
		err := t.put(ctx, target.MarkerName, upload{content: target.Text(data), mediaType: target.MediaType(target.MarkerName), cache: t.cache(target.MarkerName), onlyNew: true})
		switch status(err) {
		case http.StatusPreconditionFailed:
			return nil
		case http.StatusNotImplemented:
			return finally(&Unconditional{t.String(), "does not know conditional writes"})
		}
		if err == nil {
			return finally(&Unconditional{t.String(), "overwrites an object that it was asked not to overwrite"})
		}
		return err
	})
	t.trusted = err == nil
	return err
}

// Replace is target.Target's.
func (t *Target) Replace(ctx context.Context, name string, data []byte) error {
	return t.ReplaceAs(ctx, name, data, target.MediaType(name))
}

// ReplaceAs is target.Typed's.
func (t *Target) ReplaceAs(ctx context.Context, name string, data []byte, mediaType string) error {
	if err := errors.Join(ctx.Err(), target.CheckName(name)); err != nil {
		return err
	}
	c := target.Text(data)
	return t.try(ctx, "replacing", name, func(ctx context.Context) error {
		if err := t.put(ctx, name, upload{content: c, mediaType: mediaType, cache: t.scope() + anew}); err != nil {
			return err
		}
		return t.readBack(ctx, name, c)
	})
}

func (t *Target) scope() string {
	if t.opt.Private {
		return "private, "
	}
	return ""
}

// cache is what caches may do with an object that Create writes.
func (t *Target) cache(name string) string {
	if name == target.MarkerName {
		return t.scope() + anew
	}
	return t.scope() + forEver
}

// upload is one object on its way.
type upload struct {
	content   target.Content
	mediaType string
	cache     string
	onlyNew   bool // fail with 412 where something is
}

// put sends an object once. Errors of the content are final, all others the store's.
func (t *Target) put(ctx context.Context, name string, u upload) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	w, err := t.bucket.NewWriter(ctx, t.key(name), &gocloud.WriterOptions{
		BufferSize: partSize, MaxConcurrency: 2, ContentType: u.mediaType, CacheControl: u.cache, IfNotExist: u.onlyNew,
		BeforeWrite: func(as func(any) bool) error {
			var in *transfermanager.UploadObjectInput
			if u.content.Bytes < wholeSize && as(&in) {
				// A store that knows it refuses what was changed on the way; others pass over it.
				if sum, err := hex.DecodeString(u.content.SHA256); err == nil && len(sum) == sha256.Size {
					in.ChecksumSHA256 = aws.String(base64.StdEncoding.EncodeToString(sum))
				}
			}
			return nil
		}})
	if err != nil {
		return err
	}
	if u.content.Bytes < wholeSize {
		// Checked before the first byte leaves: a wrong one would be refused by its checksum, with a worse message.
		var data bytes.Buffer
		if err := u.content.Copy(ctx, &data); err != nil {
			stop()
			w.Close()
			return finally(t.fail("writing", name, err))
		}
		if _, err := w.Write(data.Bytes()); err != nil {
			stop()
			return errors.Join(w.Close(), err)
		}
		return w.Close()
	}
	out := &noting{to: w}
	if err := u.content.Copy(ctx, out); err != nil {
		stop() // before Close, which would complete the upload
		closed := w.Close()
		if out.err != nil {
			return closed
		}
		return finally(t.fail("writing", name, err))
	}
	return w.Close()
}

// noting keeps the error of a writer apart from that of what is read.
type noting struct {
	to  io.Writer
	err error
}

func (n *noting) Write(p []byte) (int, error) {
	k, err := n.to.Write(p)
	n.err = err
	return k, err
}
