package blob

import (
	"context"
	"fmt"
	"io"
	"net/http"

	"dropwright/series/target"
)

// Exposed is target.Guarded's: it asks for an object as a stranger would, without a signature. A refusal of any kind
// means that strangers are kept out.
func (t *Target) Exposed(ctx context.Context, name string) (bool, error) {
	if err := target.CheckName(name); err != nil {
		return false, err
	}
	u, err := t.address(ctx, name)
	if err != nil {
		return false, fmt.Errorf("%s: %w", t, err)
	}
	open := false
	err = t.try(ctx, "asking without a key for", name, func(ctx context.Context) error {
		req, err := http.NewRequestWithContext(ctx, http.MethodGet, u.String(), nil)
		if err != nil {
			return finally(err)
		}
		answer, err := t.opt.Transport.RoundTrip(req)
		if err != nil {
			return err
		}
		defer answer.Body.Close()
		_, _ = io.Copy(io.Discard, io.LimitReader(answer.Body, 4096))
		if answer.StatusCode/100 == 5 || answer.StatusCode == http.StatusTooManyRequests { // it says nothing of strangers
			return fmt.Errorf("the store answers with status %d", answer.StatusCode)
		}
		open = answer.StatusCode/100 == 2
		return nil
	})
	return open, err
}
