package release

import (
	"context"

	"dropwright/series/target"
)

// Refresh makes the pages of a place as they should be now, and its index: after a day moved or a teaser changed,
// between drops. It sends no revision, and claims an empty place, so that a season can be told of before its first
// drop. An outbox has no pages; it is left as it is.
func (r *Runner) Refresh(ctx context.Context, channel string) error {
	c, err := r.channel(channel)
	if err != nil || c.Post != nil {
		return err
	}
	if err := target.Claim(ctx, c.Target, r.marker(c)); err != nil {
		return err
	}
	if err := r.guarded(ctx, c); err != nil {
		return err
	}
	if err := c.Target.Sweep(ctx); err != nil {
		return err
	}
	problems, err := r.Audit(ctx, channel)
	if err != nil {
		return err
	}
	if len(problems) > 0 {
		return &Unsound{Problems: problems}
	}
	return r.writeIndex(ctx, c, 0)
}
