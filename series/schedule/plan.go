package schedule

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"dropwright/bundle/design"
	"dropwright/series/calendar"
	"dropwright/series/ledger"
)

// State says how an action stands.
type State string

// The states of an action.
const (
	Waiting    State = "waiting"     // its time has not come
	Due        State = "due"         // its time has come
	Blocked    State = "blocked"     // its time has come, and a rule stands in the way; Why says which
	HandedOver State = "handed-over" // laid out for posting by hand; the maker has not confirmed it
	Done       State = "done"
)

// Kind is what an action does.
type Kind string

// The kinds of actions.
const (
	Drop Kind = "drop" // sends a revision to a channel
	Mark Kind = "mark" // marks a withdrawn revision at a channel that has it
)

// Channel is a place for one audience.
type Channel struct{ Name, Audience string }

// Input is what a plan is made from.
type Input struct {
	Calendar *calendar.Calendar
	Ledger   *ledger.Log
	Channels []Channel
	// Has says whether a design has a folder.
	Has func(design string) bool
	// Present is the revision of a design's manifest, "" if it cannot be told. It is asked only where the
	// answer matters, because it reads a file.
	Present func(design string) string
}

// Action is one thing to do, with its reasons.
type Action struct {
	Kind     Kind
	Design   string
	Revision string // "" while it is not known
	Audience string // the channel's
	Channel  string
	Due      time.Time
	State    State
	Why      []string
	Fixed    string // the kind of bundle that goes: early or public
	Leads    bool   // for the leading audience: the bundles are made for it
	Fresh    bool   // a correction: an older revision is out there
	Intent   int    // seq of an intent without a result: the action was interrupted
	Of       int    // Mark: seq of the withdrawal
}

// BundleFor is the kind of bundle that an audience gets: the public one, or the early one for everybody who
// pays.
func BundleFor(audience string) string {
	if audience == calendar.Public {
		return calendar.Public
	}
	return calendar.Early
}

// Plan lists what a time asks for: of every design and channel the next action, or the last one that was
// done; and marks for withdrawn revisions. Actions are in the order in which they are to be carried out: by
// due time, the leading audience first, then by design and channel.
func Plan(in Input, now time.Time) []Action {
	p := newPlanner(in)
	out := p.marks()
	for _, slot := range in.Calendar.Slots() {
		if slot.Design == "" || !in.Has(slot.Design) {
			continue
		}
		out = append(out, p.design(slot, now)...)
	}
	slices.SortStableFunc(out, func(a, b Action) int {
		return cmp.Or(a.Due.Compare(b.Due), -cmp.Compare(bit(a.Kind == Mark), bit(b.Kind == Mark)), -cmp.Compare(bit(a.Leads), bit(b.Leads)), strings.Compare(a.Design, b.Design))
	})
	return out
}

func bit(b bool) int {
	if b {
		return 1
	}
	return 0
}

// planner holds the ledger by design, so that a season is planned in one pass over it.
type planner struct {
	in         Input
	deliveries map[string][]ledger.Delivery
	withdrawn  map[[2]string]ledger.Entry // design, revision
	dates      map[string][]ledger.Date
	marked     map[string]bool // "seq channel"
}

func newPlanner(in Input) *planner {
	p := &planner{in: in, deliveries: map[string][]ledger.Delivery{}, withdrawn: map[[2]string]ledger.Entry{}, dates: map[string][]ledger.Date{}, marked: map[string]bool{}}
	for _, d := range in.Ledger.Deliveries() {
		p.deliveries[d.Intent.Design] = append(p.deliveries[d.Intent.Design], d)
	}
	for _, e := range in.Ledger.Entries {
		switch e.Kind {
		case ledger.Withdraw:
			p.withdrawn[[2]string{e.Design, e.Revision}] = e
		case ledger.Promise, ledger.Move:
			p.dates[e.Design] = e.Dates
		case ledger.Result:
			p.marked[fmt.Sprint(e.Of, " ", e.Channel)] = true
		}
	}
	return p
}

// leading is the audience that gets the slot's design first among those with a channel.
func (p *planner) leading(slot calendar.Slot) string {
	best, found := "", time.Time{}
	for _, d := range slot.Drops { // early stands first, public last
		has := slices.ContainsFunc(p.in.Channels, func(c Channel) bool { return c.Audience == d.Audience })
		if has && (best == "" || d.UTC.Before(found)) {
			best, found = d.Audience, d.UTC
		}
	}
	return best
}

// sent finds the newest revision that a channel got or has laid out, and an interrupted delivery.
func (p *planner) sent(design, channel string) (latest, open *ledger.Delivery) {
	for i, d := range p.deliveries[design] {
		if d.Intent.Channel != channel {
			continue
		}
		switch d.Outcome {
		case "":
			open = &p.deliveries[design][i]
		case ledger.Done, ledger.HandedOver:
			if latest == nil || Newer(d.Intent.Revision, latest.Intent.Revision) {
				latest = &p.deliveries[design][i]
			}
		}
	}
	return latest, open
}

// Newer says whether revision a is higher than b. A text that is no revision is lower than any.
func Newer(a, b string) bool {
	x, errX := design.ParseRevision(a)
	y, errY := design.ParseRevision(b)
	if errX != nil || errY != nil {
		return errX == nil
	}
	return x.Compare(y) > 0
}

func (p *planner) design(slot calendar.Slot, now time.Time) []Action {
	lead := p.leading(slot)
	var out []Action
	for _, c := range p.in.Channels {
		drop, ok := slot.Drop(c.Audience)
		if !ok {
			continue
		}
		a := Action{Kind: Drop, Design: slot.Design, Audience: c.Audience, Channel: c.Name, Fixed: BundleFor(c.Audience), Leads: c.Audience == lead}
		a.Why = append(a.Why, drop.Notes...)
		a.date(p.dates[a.Design], drop)
		latest, open := p.sent(slot.Design, c.Name)
		switch {
		case open != nil:
			a.Revision, a.Intent, a.State, a.Due = open.Intent.Revision, open.Intent.Seq, Due, open.Intent.Due
			a.say("begun at %s and interrupted: it is completed", stamp(open.Intent.At))
			if now.Before(a.Due) {
				a.State = Waiting
				a.say("the clock has gone back before its time")
			}
		case a.Leads:
			p.lead(&a, latest, now)
		default:
			p.follow(&a, lead, latest, now)
		}
		if w, ok := p.withdrawn[[2]string{a.Design, a.Revision}]; ok && (a.State == Done || a.State == HandedOver) {
			a.Why = append([]string{"withdrawn: " + w.Because}, a.Why...)
		}
		out = append(out, a)
	}
	return out
}

// lead decides for the audience that gets the present revision of the manifest.
func (p *planner) lead(a *Action, latest *ledger.Delivery, now time.Time) {
	a.Revision = p.in.Present(a.Design)
	switch {
	case latest == nil && now.Before(a.Due):
		a.State = Waiting
	case latest == nil:
		a.State = Due
		a.say("%s, the day of its first drop", stamp(a.Due))
	case a.Revision == "" || a.Revision == latest.Intent.Revision:
		a.settled(latest)
	case Newer(latest.Intent.Revision, a.Revision):
		a.settled(latest)
		a.say("the manifest says %s, which is older", p.in.Present(a.Design))
	default:
		a.State, a.Fresh = Due, true
		a.say("correction of %s: supporters get it at once", latest.Intent.Revision)
		if now.Before(a.Due) { // the date moved on after the first drop, or the clock went back
			a.say("%s is out already", latest.Intent.Revision)
		}
	}
	if w, ok := p.withdrawn[[2]string{a.Design, a.Revision}]; ok && a.State == Due {
		a.State = Blocked
		a.say("%s was withdrawn (%s): raise the revision with dropwright revise %s", a.Revision, w.Because, a.Design)
	}
}

// follow decides for everybody else: they get what the leading audience has.
func (p *planner) follow(a *Action, lead string, latest *ledger.Delivery, now time.Time) {
	newest := ""
	confirmed := true
	for _, c := range p.in.Channels {
		if c.Audience != lead {
			continue
		}
		for _, d := range p.deliveries[a.Design] {
			_, gone := p.withdrawn[[2]string{a.Design, d.Intent.Revision}]
			if d.Intent.Channel == c.Name && (d.Outcome == ledger.Done || d.Outcome == ledger.HandedOver) && !gone && (newest == "" || Newer(d.Intent.Revision, newest)) {
				newest, confirmed = d.Intent.Revision, d.Outcome == ledger.Done
			}
		}
	}
	a.Revision = newest
	switch {
	case latest != nil && (newest == "" || !Newer(newest, latest.Intent.Revision)):
		a.settled(latest)
	case now.Before(a.Due):
		a.State = Waiting
		a.Fresh = latest != nil
	case newest == "":
		a.State = Blocked
		a.say("the %s drop has not gone out: nobody gets a design before the %s audience", lead, lead)
		for _, d := range p.deliveries[a.Design] {
			if w, ok := p.withdrawn[[2]string{a.Design, d.Intent.Revision}]; ok {
				a.Why = []string{fmt.Sprintf("%s was withdrawn (%s): release a correction to the %s audience first", d.Intent.Revision, w.Because, lead)}
			}
		}
	default:
		a.State, a.Fresh = Due, latest != nil
		if a.Fresh {
			a.say("correction of %s", latest.Intent.Revision)
		} else {
			a.say("%s, its day", stamp(a.Due))
		}
		if !confirmed {
			a.say("the %s post was laid out and never confirmed", lead)
		}
	}
}

// settled is an action that was carried out.
func (a *Action) settled(d *ledger.Delivery) {
	a.Revision, a.State, a.Due = d.Intent.Revision, Done, d.Intent.Due
	a.Why = nil
	if d.Outcome == ledger.HandedOver {
		a.State = HandedOver
		a.say("laid out for posting at %s: dropwright release confirm %s %s --at TIME --link URL", stamp(d.At), a.Design, a.Audience)
		return
	}
	a.say("out since %s", stamp(d.At))
}

// DueOf is when a drop is due under what was promised of its design: at the calendar's instant, or at the promised
// one where that is later. A promise whose wall clock is the calendar's own follows the zone's present rules.
func DueOf(promised []ledger.Date, drop calendar.Drop) time.Time {
	wall := fmt.Sprintf("%s %s", drop.Date, drop.Clock)
	for _, d := range promised {
		if d.Audience == drop.Audience && d.UTC.After(drop.UTC) && !(d.Local == wall && d.Zone == drop.Zone.Name()) {
			return d.UTC
		}
	}
	return drop.UTC
}

// date sets the due time: the calendar's, or the promised one where that is later.
func (a *Action) date(promised []ledger.Date, drop calendar.Drop) {
	a.Due = drop.UTC
	for _, d := range promised {
		if d.Audience != a.Audience || d.UTC.Equal(drop.UTC) {
			continue
		}
		if wall := fmt.Sprintf("%s %s", drop.Date, drop.Clock); d.Local == wall && d.Zone == drop.Zone.Name() {
			a.say("the rules of %s changed since it was promised: %s is now %s, then %s (%s)", d.Zone, wall, stamp(drop.UTC), stamp(d.UTC), d.Data)
			continue
		}
		if a.Due = DueOf(promised, drop); a.Due.After(drop.UTC) {
			a.say("series.yaml says %s, promised was %s: the promised date stands until dropwright schedule move records a reason", drop.Local(), d.Local)
		} else {
			a.say("series.yaml says %s, promised was %s: record the reason with dropwright schedule move", drop.Local(), d.Local)
		}
	}
}

// marks lists the channels that do not yet say that a revision of theirs was withdrawn.
func (p *planner) marks() []Action {
	var out []Action
	for _, e := range p.in.Ledger.Entries {
		if e.Kind != ledger.Withdraw {
			continue
		}
		for _, c := range p.in.Channels {
			for _, d := range p.deliveries[e.Design] {
				if d.Intent.Channel != c.Name || d.Intent.Revision != e.Revision || d.Outcome != ledger.Done && d.Outcome != ledger.HandedOver || p.marked[fmt.Sprint(e.Seq, " ", c.Name)] {
					continue
				}
				a := Action{Kind: Mark, Design: e.Design, Revision: e.Revision, Audience: c.Audience, Channel: c.Name, Due: e.At, State: Due, Fixed: BundleFor(c.Audience), Of: e.Seq}
				a.say("withdrawn: %s", e.Because)
				out = append(out, a)
				break
			}
		}
	}
	return out
}

func (a *Action) say(format string, args ...any) { a.Why = append(a.Why, fmt.Sprintf(format, args...)) }

// stamp writes an instant for people and programs alike.
func stamp(t time.Time) string { return t.UTC().Format("2006-01-02 15:04 UTC") }
