package release

import (
	"context"
	"errors"
	"fmt"
	"io/fs"

	"dropwright/series/ledger"
	"dropwright/series/schedule"
	"dropwright/series/target"
)

// Problem is a difference between a place and the ledger.
type Problem struct {
	Channel string `json:"channel"`
	Name    string `json:"name"` // the object
	Text    string `json:"text"`
	// Foreign is an object with other bytes than the ledger says: it must be moved away by hand, because
	// nothing that is out is ever overwritten.
	Foreign bool `json:"foreign,omitempty"`
	// Ahead is an index that names more than the ledger knows: the ledger is the older one.
	Ahead bool `json:"ahead,omitempty"`
}

// Unsound is a place that does not agree with the ledger.
type Unsound struct {
	Problems []Problem
	// Again says that the run has met the same place before: it need not be told twice.
	Again bool
}

func (u *Unsound) Error() string {
	p := u.Problems[0]
	text := fmt.Sprintf("%s does not hold what the ledger says went there: ", p.Channel)
	if n := len(u.Problems); n > 1 {
		text += fmt.Sprintf("%d differences, the first: ", n)
	}
	return text + p.Name + ": " + p.Text
}

// sound refuses a place that does not agree with the ledger. Each place is read once a run: from then on
// only this run writes there.
func (r *Runner) sound(ctx context.Context, c *Channel) error {
	if r.audited[c.Name] {
		return nil
	}
	if u := r.unsound[c.Name]; u != nil {
		return &Unsound{u.Problems, true}
	}
	known := r.seenAt(c)
	problems, err := r.audit(ctx, c, known)
	if err != nil {
		return err
	}
	known.keep()
	if len(problems) > 0 {
		u := &Unsound{Problems: problems}
		if r.unsound != nil { // within a run
			r.unsound[c.Name] = u
		}
		return u
	}
	r.audited[c.Name] = true
	return nil
}

// maxIndex is the largest index that is read, in bytes: ten thousand releases.
const maxIndex = 64 << 20

// Audit compares a place with the ledger, reading every file that went there. It writes nothing.
func (r *Runner) Audit(ctx context.Context, channel string) ([]Problem, error) {
	c, err := r.channel(channel)
	if err != nil {
		return nil, err
	}
	return r.audit(ctx, c, nil)
}

func (r *Runner) audit(ctx context.Context, c *Channel, before *seen) ([]Problem, error) {
	var out []Problem
	add := func(name, format string, args ...any) *Problem {
		out = append(out, Problem{Channel: c.Name, Name: name, Text: fmt.Sprintf(format, args...)})
		return &out[len(out)-1]
	}
	if err := r.auditIndex(ctx, c, add); err != nil {
		return nil, err
	}
	if c.Post != nil {
		return out, nil // what was posted may be tidied away by the maker
	}
	known := map[string]string{} // hash -> what it is
	var objects []want
	for _, d := range r.Ledger.Deliveries() {
		if d.Intent.Channel != c.Name || d.Outcome == ledger.Abandoned {
			continue
		}
		list := append([]ledger.Object(nil), d.Intent.Objects...)
		text := target.Text(sums(d.Intent.Objects))
		list = append(list, ledger.Object{Name: SumsName, SHA256: text.SHA256, Bytes: text.Bytes})
		for _, o := range list {
			w := want{objectName(d.Intent.Design, d.Intent.Revision, o.Name), o.SHA256, o.Bytes, d.Outcome != ""}
			known[o.SHA256] = w.name
			objects = append(objects, w)
		}
	}
	for _, w := range objects {
		if err := w.compare(ctx, c, before, known, add); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// want is an object that should be at a place; must says whether its drop was completed.
type want struct {
	name, sum string
	bytes     int64
	must      bool
}

func (w want) compare(ctx context.Context, c *Channel, before *seen, known map[string]string, add func(string, string, ...any) *Problem) error {
	info, err := c.Target.Stat(ctx, w.name)
	if errors.Is(err, fs.ErrNotExist) {
		if w.must {
			add(w.name, "it is missing")
		}
		return nil
	} else if err != nil {
		return err
	}
	sum, err := before.sum(ctx, c.Target, w.name)
	if err != nil {
		return err
	}
	switch other, ok := known[sum]; {
	case sum == w.sum && info.Bytes == w.bytes:
	case ok:
		add(w.name, "it holds the bytes of %s", other).Foreign = true
	default:
		add(w.name, "it has SHA-256 %.12s instead of %.12s", sum, w.sum).Foreign = true
	}
	return nil
}

// auditIndex compares what a place says it holds with what the ledger says.
func (r *Runner) auditIndex(ctx context.Context, c *Channel, add func(string, string, ...any) *Problem) error {
	due := r.index(c, 0)
	data, err := target.Read(ctx, c.Target, IndexName, maxIndex)
	if errors.Is(err, fs.ErrNotExist) {
		switch n := len(due.Releases); {
		case n == 1:
			add(IndexName, "it is missing, although %s went there", due.Releases[0].name())
		case n > 1:
			add(IndexName, "it is missing, although %d revisions went there", n)
		}
		return nil
	} else if err != nil {
		return err
	}
	x, err := parseIndex(data)
	if err != nil {
		add(IndexName, "%v", err)
		return nil
	}
	if x.Series != due.Series || x.Audience != due.Audience || x.Rehearsal != due.Rehearsal {
		add(IndexName, "it is the index of another place: %s for %s", x.Series, x.Audience)
		return nil
	}
	if !r.Ledger.Has(x.Ledger) {
		add(IndexName, "it was written with line %d of a ledger that this one does not hold: the ledger is an older copy, or another machine released", x.Ledger.Seq).Ahead = true
	}
	known := map[string]Release{}
	for _, d := range r.Ledger.Deliveries() {
		if d.Intent.Channel == c.Name && d.Outcome != ledger.Abandoned {
			e := r.entry(d.Intent)
			known[e.name()] = e
		}
	}
	listed := map[string]bool{}
	for _, e := range x.Releases {
		k, ok := known[e.name()]
		switch {
		case !ok:
			add(IndexName, "it names %s, which the ledger does not know", e.name()).Ahead = true
		case !sameRelease(k, e):
			add(IndexName, "it names other files for %s", e.name())
		}
		listed[e.name()] = true
	}
	for _, e := range due.Releases {
		if !listed[e.name()] {
			add(IndexName, "it does not name %s, which went there: it is an older copy", e.name())
		}
	}
	return nil
}

// Repair accepts that a place or the ledger was restored from an older copy, on the maker's word: what the
// place holds and the ledger does not know is entered, what is missing at the place is sent again, the index
// is written anew. Files with other bytes must be moved away first.
func (r *Runner) Repair(ctx context.Context, channel, because string) ([]Problem, error) {
	c, err := r.channel(channel)
	if err != nil {
		return nil, err
	}
	if err := target.Claim(ctx, c.Target, r.marker(c)); err != nil {
		return nil, err
	}
	problems, err := r.Audit(ctx, channel)
	if err != nil || len(problems) == 0 {
		return problems, err
	}
	u := &Unsound{}
	for _, p := range problems {
		if p.Foreign {
			u.Problems = append(u.Problems, p)
		}
	}
	if len(u.Problems) > 0 {
		return problems, u
	}
	if _, err := r.record(ledger.Record{Kind: ledger.Repair, Channel: channel, Because: because}); err != nil {
		return problems, err
	}
	if err := r.adopt(ctx, c); err != nil {
		return problems, err
	}
	for _, d := range r.Ledger.Deliveries() {
		if d.Intent.Channel != c.Name || d.Outcome != ledger.Done || c.Post != nil {
			continue
		}
		if err := r.resend(ctx, c, d); err != nil {
			return problems, err
		}
	}
	return problems, r.writeIndex(ctx, c, 0)
}

// adopt enters what a place's index names and the ledger has forgotten, so that it is never sent again.
func (r *Runner) adopt(ctx context.Context, c *Channel) error {
	data, err := target.Read(ctx, c.Target, IndexName, maxIndex)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	} else if err != nil {
		return err
	}
	x, err := parseIndex(data)
	if err != nil {
		return nil // it is written anew
	}
	known := map[string]ledger.Delivery{}
	for _, d := range r.Ledger.Deliveries() {
		if d.Intent.Channel == c.Name && d.Outcome != ledger.Abandoned {
			known[d.Intent.Design+" "+d.Intent.Revision] = d
		}
	}
	outcome := ledger.Done
	if c.Post != nil {
		outcome = ledger.HandedOver
	}
	for _, e := range x.Releases {
		d, ok := known[e.name()]
		if ok && d.Outcome != "" {
			continue
		}
		seq := d.Intent.Seq
		if !ok {
			intent, err := r.record(ledger.Record{Kind: ledger.Intent, Design: e.Design, Revision: e.Revision, Audience: c.Audience, Channel: c.Name, Due: e.Due, Objects: e.Objects, Digest: e.Digest,
				Because: "entered from the place's index"})
			if err != nil {
				return err
			}
			seq = intent.Seq
		}
		if _, err := r.record(ledger.Record{Kind: ledger.Result, Of: seq, Outcome: outcome, Design: e.Design, Revision: e.Revision, Audience: c.Audience, Channel: c.Name}); err != nil {
			return err
		}
	}
	return nil
}

// resend creates what is missing of a completed drop.
func (r *Runner) resend(ctx context.Context, c *Channel, d ledger.Delivery) error {
	complete := true
	for _, o := range append(d.Intent.Objects[:len(d.Intent.Objects):len(d.Intent.Objects)], ledger.Object{Name: SumsName}) {
		_, err := c.Target.Stat(ctx, objectName(d.Intent.Design, d.Intent.Revision, o.Name))
		if errors.Is(err, fs.ErrNotExist) {
			complete = false
		} else if err != nil {
			return err
		}
	}
	if complete {
		return nil
	}
	fixed := ledger.Entry{Record: d.Intent.Record}
	fixed.Audience = schedule.BundleFor(c.Audience)
	if b, ok := r.Ledger.BundleOf(d.Intent.Design, d.Intent.Revision, fixed.Audience); ok {
		fixed.Source = b.Source
	}
	files, err := r.contents(ctx, fixed)
	if err != nil {
		return err
	}
	return send(ctx, c.Target, d.Intent.Design, d.Intent.Revision, files)
}
