package blob

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"time"

	signer "github.com/aws/aws-sdk-go-v2/aws/signer/v4"
	"github.com/aws/aws-sdk-go-v2/service/s3"

	"dropwright/series/target"
)

// Link is target.Linker's: an address with a signature that lets whoever holds it read one object (SigV4 query
// parameters, S3 API "Authenticating Requests: Using Query Parameters"). Nothing is asked of the store.
func (t *Target) Link(ctx context.Context, name string, life time.Duration) (target.Link, error) {
	var l target.Link
	if err := target.CheckName(name); err != nil {
		return l, err
	}
	// The library signs longer ones too, and the store then refuses them.
	if life < time.Minute || life > target.MaxLink {
		return l, fmt.Errorf("a link lives from 1 minute to 7 days, not %s: stores refuse longer ones", life)
	}
	now := t.opt.Now().UTC().Truncate(time.Second)
	u, err := t.address(ctx, name)
	if err != nil {
		return l, fmt.Errorf("%s: making a link to %q: %w", t, name, err)
	}
	query := u.Query()
	query.Set("X-Amz-Expires", strconv.Itoa(int(life/time.Second)))
	u.RawQuery = query.Encode()
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, u.String(), nil)
	if err != nil {
		return l, fmt.Errorf("%s: making a link to %q: %w", t, name, err)
	}
	signed, err := t.sign(ctx, req, now)
	if err != nil {
		return l, fmt.Errorf("%s: making a link to %q: the signature cannot be made", t, name)
	}
	return target.Link{Name: name, URL: signed, Until: now.Add(life), Borrowed: t.keys.key.SessionToken != ""}, nil
}

// sign adds the signature's parameters to a request's address.
func (t *Target) sign(ctx context.Context, req *http.Request, now time.Time) (string, error) {
	s := signer.NewSigner(func(o *signer.SignerOptions) { o.DisableURIPathEscaping = true }) // names need no escaping
	signed, _, err := s.PresignHTTP(ctx, t.keys.key, req, "UNSIGNED-PAYLOAD", "s3", t.keys.region, now)
	return signed, err
}

// address is an object's own, as the client would ask for it.
func (t *Target) address(ctx context.Context, name string) (*url.URL, error) {
	params := s3.EndpointParameters{Bucket: &t.store.Bucket, Region: &t.keys.region, ForcePathStyle: &t.store.PathStyle}
	if t.store.Endpoint != "" {
		params.Endpoint = &t.store.Endpoint
	}
	e, err := s3.NewDefaultEndpointResolverV2().ResolveEndpoint(ctx, params)
	if err != nil {
		return nil, err
	}
	return e.URI.JoinPath(t.key(name)), nil
}
