// Package blob is a target in a store in the network that speaks S3, its own or another maker's, through
// gocloud.dev/blob.
//
// # What it does for a release
//
//   - Create writes with If-None-Match: * (RFC 9110 section 13.1.2), so that of two machines one wins; the store
//     is tried once a run on whether it really holds to that. Then the object is read back and its SHA-256 compared:
//     what the store says of it (its ETag) proves nothing, since it is another thing in each store.
//   - A lost answer is found out by looking: the same bytes there are success.
//   - Answers that say "later" (429, 500, 502, 503, 504) and broken connections are tried again, at most
//     [attempts] times, with the wait that Retry-After asks for if it is a short one. The clock is handed in.
//   - Redirects are not followed: a signed request goes to the host that was named, or nowhere.
//   - Parts of uploads that were broken off are removed by Sweep.
//
// Keys come from the environment or the store's own settings files, see [Keys]. No message holds one.
package blob

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/aws/aws-sdk-go-v2/aws"
	"github.com/aws/aws-sdk-go-v2/service/s3"
	gocloud "gocloud.dev/blob"
	"gocloud.dev/blob/s3blob"

	"dropwright/series/target"
)

// Options are what a store needs from outside.
type Options struct {
	Getenv func(string) string
	Home   string           // the user's folder, which holds .aws; "" for none
	Now    func() time.Time // nil: the machine's clock
	// Sleep waits between two attempts, and ends with the context. nil: the machine's clock.
	Sleep func(ctx context.Context, d time.Duration) error
	// Transport carries the requests; nil: the network, with limits for silence.
	Transport http.RoundTripper
	// Silence is how long a connection may say nothing; 0 for a minute.
	Silence time.Duration
	// Private objects are kept by the reader's own cache alone.
	Private bool
}

// Target is a bucket, or what lies under a prefix of it. Make it with [New].
type Target struct {
	store   target.Store
	opt     Options
	keys    Keys
	client  *s3.Client
	bucket  *gocloud.Bucket
	mu      sync.Mutex
	trusted bool // the store was seen to hold to If-None-Match
}

var (
	_ target.Target = (*Target)(nil)
	_ target.Typed  = (*Target)(nil)
	_ target.Linker = (*Target)(nil)

	_ target.Guarded = (*Target)(nil)
	_ target.Marked  = (*Target)(nil)
)

// New opens a store without asking it anything.
func New(s target.Store, opt Options) (*Target, error) {
	if opt.Now == nil {
		opt.Now = time.Now
	}
	if opt.Sleep == nil {
		opt.Sleep = sleep
	}
	if opt.Silence == 0 {
		opt.Silence = time.Minute
	}
	if opt.Transport == nil {
		opt.Transport = transport(opt.Silence)
	}
	keys, err := FindKeys(s, opt.Getenv, opt.Home)
	if err != nil {
		return nil, err
	}
	if keys.region == "" {
		if s.Endpoint == "" {
			return nil, &NoKeys{s.String(), "in which region does the bucket lie?", "write it behind the bucket's name, such as ?region=eu-west-1, or into the profile"}
		}
		keys.region = "us-east-1" // what stores that know no regions expect in a signature
	}
	o := s3.Options{
		Region:       keys.region,
		UsePathStyle: s.PathStyle,
		Credentials:  aws.NewCredentialsCache(aws.CredentialsProviderFunc(func(context.Context) (aws.Credentials, error) { return keys.key, nil })),
		// Attempts are counted here, where the clock is handed in.
		Retryer: aws.NopRetryer{},
		HTTPClient: &http.Client{Transport: opt.Transport, CheckRedirect: func(*http.Request, []*http.Request) error {
			return http.ErrUseLastResponse
		}},
		// Stores beside the first one do not know the newer checksums; the bytes are compared by reading them.
		RequestChecksumCalculation: aws.RequestChecksumCalculationWhenRequired,
		ResponseChecksumValidation: aws.ResponseChecksumValidationWhenRequired,
	}
	if s.Endpoint != "" {
		o.BaseEndpoint = aws.String(s.Endpoint)
	}
	t := &Target{store: s, opt: opt, keys: keys, client: s3.New(o)}
	t.bucket, err = s3blob.OpenBucket(context.Background(), t.client, s.Bucket, &s3blob.Options{RequestChecksumCalculation: aws.RequestChecksumCalculationWhenRequired})
	if err != nil {
		return nil, fmt.Errorf("%s: %w", s, err)
	}
	return t, nil
}

func sleep(ctx context.Context, d time.Duration) error {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-timer.C:
		return nil
	}
}

// String names the place, without parameters.
func (t *Target) String() string { return t.store.String() }

// key is an object's whole name in the bucket.
func (t *Target) key(name string) string {
	if t.store.Prefix == "" {
		return name
	}
	return t.store.Prefix + "/" + name
}

// Stat is target.Target's.
func (t *Target) Stat(ctx context.Context, name string) (target.Info, error) {
	a, err := t.attributes(ctx, name)
	if err != nil {
		return target.Info{}, err
	}
	return target.Info{Name: name, Bytes: a.Size}, nil
}

// Mark is target.Marked's: the ETag, whatever it is in that store, with the time of writing and the size.
func (t *Target) Mark(ctx context.Context, name string) (string, error) {
	a, err := t.attributes(ctx, name)
	if err != nil || a.ETag == "" || a.ModTime.IsZero() {
		return "", err
	}
	return fmt.Sprintf("%s %d %d", a.ETag, a.ModTime.UnixNano(), a.Size), nil
}

func (t *Target) attributes(ctx context.Context, name string) (a *gocloud.Attributes, err error) {
	if err := errors.Join(ctx.Err(), target.CheckName(name)); err != nil {
		return nil, err
	}
	err = t.try(ctx, "looking for", name, func(ctx context.Context) (err error) {
		a, err = t.bucket.Attributes(ctx, t.key(name))
		return err
	})
	return a, err
}

// Open is target.Target's. What breaks off is taken up again where it stopped, as long as the object is the
// same one.
func (t *Target) Open(ctx context.Context, name string) (io.ReadCloser, error) {
	if err := errors.Join(ctx.Err(), target.CheckName(name)); err != nil {
		return nil, err
	}
	r := &reader{ctx: ctx, t: t, name: name}
	if err := r.open(); err != nil {
		return nil, err
	}
	return r, nil
}

// reader reads one object over as many connections as it takes.
type reader struct {
	ctx    context.Context
	t      *Target
	name   string
	r      *gocloud.Reader
	at     int64 // bytes read
	size   int64
	etag   string // of the object that was opened
	broken int    // connections that broke since the last byte
}

// open asks for the rest of the object.
func (r *reader) open() error {
	return r.t.try(r.ctx, "reading", r.name, func(ctx context.Context) error {
		opened, err := r.t.bucket.NewRangeReader(ctx, r.t.key(r.name), r.at, -1, &gocloud.ReaderOptions{BeforeRead: func(as func(any) bool) error {
			var in *s3.GetObjectInput
			if as(&in) && r.etag != "" {
				in.IfMatch = aws.String(r.etag)
			}
			return nil
		}})
		if err != nil {
			return err
		}
		if r.r == nil {
			var out s3.GetObjectOutput
			if opened.As(&out) {
				r.etag = aws.ToString(out.ETag)
			}
			r.size = opened.Size()
		}
		r.r = opened
		return nil
	})
}

// Read is io.Reader's.
func (r *reader) Read(p []byte) (int, error) {
	for {
		n, err := r.r.Read(p)
		r.at += int64(n)
		if n > 0 {
			r.broken = 0
			return n, nil // an error comes again with the next call
		}
		if err == nil || r.ctx.Err() != nil {
			return n, errors.Join(err, r.ctx.Err())
		}
		if err == io.EOF && r.at >= r.size {
			return 0, io.EOF
		}
		if err == io.EOF {
			err = io.ErrUnexpectedEOF
		}
		if r.broken++; r.broken >= attempts {
			return 0, r.t.fail("reading", r.name, err)
		}
		if err := r.t.opt.Sleep(r.ctx, backoff(r.broken)); err != nil {
			return 0, err
		}
		r.r.Close()
		if err := r.open(); err != nil {
			return 0, err
		}
	}
}

// Close is io.Closer's.
func (r *reader) Close() error { return r.r.Close() }

// List is target.Target's.
func (t *Target) List(ctx context.Context) ([]target.Info, error) {
	prefix := ""
	if t.store.Prefix != "" {
		prefix = t.store.Prefix + "/"
	}
	var out []target.Info
	token := gocloud.FirstPageToken
	for len(token) > 0 {
		var page []*gocloud.ListObject
		var next []byte
		err := t.try(ctx, "listing", "", func(ctx context.Context) (err error) {
			page, next, err = t.bucket.ListPage(ctx, token, 1000, &gocloud.ListOptions{Prefix: prefix})
			return err
		})
		if err != nil {
			return nil, err
		}
		for _, o := range page {
			if name := strings.TrimPrefix(o.Key, prefix); name != "" { // a console's stand-in for the folder itself
				out = append(out, target.Info{Name: name, Bytes: o.Size})
			}
		}
		if len(out) > maxObjects {
			return nil, fmt.Errorf("%s holds more than %d objects: give the channel a prefix of its own", t, maxObjects)
		}
		token = next
	}
	slices.SortFunc(out, func(a, b target.Info) int { return strings.Compare(a.Name, b.Name) })
	return out, nil
}

// maxObjects bounds a listing: ten thousand releases of a dozen files.
const maxObjects = 200_000

// Sweep is target.Target's: it removes parts of uploads that were broken off. A store that does not list them, or
// a key that may not, leaves that to the store's own rules.
func (t *Target) Sweep(ctx context.Context) error {
	var keyMarker, idMarker *string
	for range maxObjects / 1000 {
		var out *s3.ListMultipartUploadsOutput
		err := t.try(ctx, "looking for broken uploads in", "", func(ctx context.Context) (err error) {
			in := &s3.ListMultipartUploadsInput{Bucket: aws.String(t.store.Bucket), KeyMarker: keyMarker, UploadIdMarker: idMarker}
			if t.store.Prefix != "" {
				in.Prefix = aws.String(t.store.Prefix + "/")
			}
			out, err = t.client.ListMultipartUploads(ctx, in)
			if code(err) == "NoSuchUpload" { // some stores say so where there are none
				out, err = &s3.ListMultipartUploadsOutput{}, nil
			}
			return err
		})
		if f := (*Failure)(nil); errors.As(err, &f) && (f.Status == http.StatusForbidden || f.Status == http.StatusNotImplemented || f.Status == http.StatusMethodNotAllowed) {
			return nil
		} else if err != nil {
			return err
		}
		for _, u := range out.Uploads {
			err := t.try(ctx, "removing a broken upload of", aws.ToString(u.Key), func(ctx context.Context) error {
				_, err := t.client.AbortMultipartUpload(ctx, &s3.AbortMultipartUploadInput{Bucket: aws.String(t.store.Bucket), Key: u.Key, UploadId: u.UploadId})
				if code(err) == "NoSuchUpload" { // gone meanwhile
					return nil
				}
				return err
			})
			if err != nil && !errors.Is(err, fs.ErrNotExist) {
				return err
			}
		}
		if !aws.ToBool(out.IsTruncated) || aws.ToString(out.NextKeyMarker) == "" {
			return nil
		}
		keyMarker, idMarker = out.NextKeyMarker, out.NextUploadIdMarker
	}
	return nil
}
