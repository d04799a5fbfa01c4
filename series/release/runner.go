package release

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"dropwright/series/calendar"
	"dropwright/series/history"
	"dropwright/series/ledger"
	"dropwright/series/schedule"
	"dropwright/series/target"
)

// Channel is a place of one audience.
type Channel struct {
	Name, Audience string
	Rehearsal      bool
	Target         target.Target
	// Post lays a drop out for a person to post; nil where files are sent to the target itself.
	Post Poster
}

// Poster lays out what a person posts by hand. It is idempotent.
type Poster interface {
	LayOut(ctx context.Context, name, title string, files []File, texts []Text, ticks []string) error
}

// File is something to attach to a post.
type File struct {
	Name    string
	Content target.Content
}

// Text is something to paste into a post.
type Text struct {
	Name string
	Data []byte
}

// Committer is a history that can commit files.
type Committer interface {
	Commit(files []string, message string, now time.Time) (string, error)
}

// Runner carries out plans of one series, either its rehearsals or its real drops. Everything it touches is
// handed in. It holds the ledger's lock and is not safe for concurrent use.
type Runner struct {
	Series   string // its name
	Title    string // as its readers know it, "" for the name
	Ledger   *ledger.Ledger
	Store    *Store
	Channels []Channel
	Calendar *calendar.Calendar
	Has      func(design string) bool
	Present  func(design string) string
	Builder  Builder
	Keeper   history.Keeper
	Now      func() time.Time
	UID      func() string // a new permanent identity for a design
	Tool, Go string        // versions, for the ledger
	Say      func(format string, args ...any)

	Commit  bool   // commit the files of a drop that are not
	Despite []Word // errors that pass on the maker's word
	// Pages makes what the readers of a place see, from its index and the fixed bundles alone, nil for none. The
	// same index must give the same bytes. Names of pages are fixed: what is no longer made stays at a place.
	Pages func(ctx context.Context, x Index) ([]Page, error)
	Sign  func(text []byte) ([]byte, error)

	latest  time.Time           // the latest time that the clock showed
	audited map[string]bool     // channels that were compared with the ledger in this run
	unsound map[string]*Unsound // those that differ from it
	closed  map[string]bool     // channels that were seen to keep strangers out
}

// Failure is an action that could not be carried out.
type Failure struct {
	Action schedule.Action
	Err    error
}

// Report is what a run did.
type Report struct {
	Done   []schedule.Action
	Failed []Failure
}

// Err joins the failures, nil if there are none.
func (r Report) Err() error {
	var errs []error
	for _, f := range r.Failed {
		errs = append(errs, fmt.Errorf("%s %s for %s: %w", f.Action.Design, f.Action.Revision, f.Action.Channel, f.Err))
	}
	return errors.Join(errs...)
}

// Plan is what is to be done now.
func (r *Runner) Plan() []schedule.Action {
	return schedule.Plan(r.input(), r.Now())
}

func (r *Runner) input() schedule.Input {
	var channels []schedule.Channel
	for _, c := range r.Channels {
		channels = append(channels, schedule.Channel{Name: c.Name, Audience: c.Audience})
	}
	return schedule.Input{Calendar: r.Calendar, Ledger: r.Ledger.Log, Channels: channels, Has: r.Has, Present: r.Present}
}

// Run carries out every action that is due and that pick accepts, until none is left. One that fails does
// not hold up another week's; after a failure of the ledger nothing more is done. The error is a reason not
// to begin at all: a place that belongs to somebody else.
func (r *Runner) Run(ctx context.Context, pick func(schedule.Action) bool) (Report, error) {
	var rep Report
	r.audited, r.unsound = map[string]bool{}, map[string]*Unsound{}
	// Whoever rehearses moves the clock about.
	rehearsing := len(r.Channels) > 0 && r.Channels[0].Rehearsal
	if now, latest := r.Now(), r.Ledger.Latest(); !rehearsing && now.Before(latest) {
		r.Say("the clock says %s, the ledger already has an entry of %s: one of the two clocks is wrong", stamp(now), stamp(latest))
	}
	tried := map[string]bool{}
	if err := r.guard(ctx, pick); err != nil {
		return rep, err
	}
	for {
		plan := r.Plan()
		i := slices.IndexFunc(plan, func(a schedule.Action) bool { return a.State == schedule.Due && pick(a) && !tried[key(a)] })
		if i < 0 {
			return rep, nil
		}
		a := plan[i]
		tried[key(a)] = true
		if err := r.carryOut(ctx, a); err != nil {
			rep.Failed = append(rep.Failed, Failure{a, err})
			if ctx.Err() != nil || r.ledgerBroken(err) {
				return rep, nil
			}
			continue
		}
		rep.Done = append(rep.Done, a)
	}
}

// key tells actions apart within a run.
func key(a schedule.Action) string {
	return fmt.Sprint(a.Kind, " ", a.Design, " ", a.Revision, " ", a.Channel, " ", a.Of)
}

// guard asks every place of a run whose it is, before any of them gets a byte.
func (r *Runner) guard(ctx context.Context, pick func(schedule.Action) bool) error {
	kinds := map[bool]string{}
	for _, c := range r.Channels {
		if kinds[c.Rehearsal] = c.Name; len(kinds) > 1 {
			return refuse("rehearse apart: --channel chooses", "%s is for rehearsing and %s is not: one run serves one kind", kinds[true], kinds[false])
		}
	}
	seen := map[string]bool{}
	now := r.Now()
	for _, a := range r.Plan() {
		// What is blocked now may be freed by what goes out first.
		late := a.State == schedule.Due || a.State == schedule.Blocked && !now.Before(a.Due)
		if !late || !pick(a) || seen[a.Channel] {
			continue
		}
		seen[a.Channel] = true
		c, err := r.channel(a.Channel)
		if err != nil {
			return err
		}
		// A place that cannot be reached fails its own drops only; it is asked again before they begin.
		var stranger *target.Stranger
		if _, err := target.Check(ctx, c.Target, r.marker(c)); errors.As(err, &stranger) {
			return err
		}
	}
	return nil
}

func (r *Runner) marker(c *Channel) target.Marker {
	return target.Marker{Series: r.Series, Audience: c.Audience, Rehearsal: c.Rehearsal}
}

func (r *Runner) channel(name string) (*Channel, error) {
	for i := range r.Channels {
		if r.Channels[i].Name == name {
			return &r.Channels[i], nil
		}
	}
	return nil, refuse("name it in series.yaml again, or give --channel", "no channel is called %q any more", name)
}

// carryOut does one action.
func (r *Runner) carryOut(ctx context.Context, a schedule.Action) error {
	c, err := r.channel(a.Channel)
	if err != nil {
		return err
	}
	if err := r.intime(a); err != nil {
		return err
	}
	if a.Kind == schedule.Mark {
		return r.mark(ctx, a, c)
	}
	return r.drop(ctx, a, c)
}

// intime asks the clock: a drop never begins before its instant, nor under a clock that goes back.
func (r *Runner) intime(a schedule.Action) error {
	now := r.Now()
	if now.Before(r.latest) {
		return refuse("set the clock, then run again; nothing is lost", "the clock went back during the run, from %s to %s", stamp(r.latest), stamp(now))
	}
	r.latest = now
	if a.Kind == schedule.Drop && now.Before(a.Due) {
		return refuse("run again when it is due", "it is due %s and it is %s", stamp(a.Due), stamp(now))
	}
	return nil
}

func (r *Runner) ledgerBroken(err error) bool {
	var broken *ledgerFailure
	return errors.As(err, &broken)
}

// ledgerFailure is a record that could not be written.
type ledgerFailure struct{ err error }

func (l *ledgerFailure) Error() string { return l.err.Error() }
func (l *ledgerFailure) Unwrap() error { return l.err }

// record adds to the ledger.
func (r *Runner) record(x ledger.Record) (ledger.Entry, error) {
	if x.At.IsZero() {
		x.At = r.Now()
	}
	e, err := r.Ledger.Append(x)
	if err != nil {
		return e, &ledgerFailure{err}
	}
	return e, nil
}

func stamp(t time.Time) string { return t.UTC().Format("2006-01-02 15:04:05 UTC") }
