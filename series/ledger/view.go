package ledger

import (
	"slices"
	"time"
)

// BundleOf is the latest record that fixes what a revision is for an audience.
func (l *Log) BundleOf(design, revision, audience string) (Entry, bool) {
	return l.last(func(e Entry) bool {
		return e.Kind == Bundle && e.Design == design && e.Revision == revision && e.Audience == audience
	})
}

// Dates are a design's dates as last promised or moved; none if it was never promised or taken off.
func (l *Log) Dates(design string) []Date {
	e, _ := l.last(func(e Entry) bool { return (e.Kind == Promise || e.Kind == Move) && e.Design == design })
	return e.Dates
}

// UID is the permanent identity that a design's first promise gave it.
func (l *Log) UID(design string) string {
	for _, e := range l.Entries {
		if e.Kind == Promise && e.Design == design && e.UID != "" {
			return e.UID
		}
	}
	return ""
}

// Delivery is what became of one revision on its way to one channel.
type Delivery struct {
	Intent Entry
	// Outcome is empty while no result is written, then one of Done, HandedOver and Abandoned. A confirmed
	// hand-over is Done.
	Outcome string
	At      time.Time // of the result, or the time that the maker confirmed
	Link    string    // of a confirmation
}

// Deliveries lists all intents with what became of each, in order.
func (l *Log) Deliveries() []Delivery {
	var out []Delivery
	byIntent := map[int]int{} // seq of intent or result -> index in out
	for _, e := range l.Entries {
		switch e.Kind {
		case Intent:
			byIntent[e.Seq] = len(out)
			out = append(out, Delivery{Intent: e})
		case Result:
			if i, ok := byIntent[e.Of]; ok {
				out[i].Outcome, out[i].At = e.Outcome, e.At
				byIntent[e.Seq] = i
			}
		case Confirm:
			if i, ok := byIntent[e.Of]; ok {
				out[i].Outcome, out[i].At, out[i].Link = Done, e.When, e.Link
			}
		}
	}
	return out
}

// Withdrawn gives the record that withdrew a revision.
func (l *Log) Withdrawn(design, revision string) (Entry, bool) {
	return l.last(func(e Entry) bool {
		return e.Kind == Withdraw && e.Design == design && e.Revision == revision
	})
}

// Despites lists what was let pass for a revision.
func (l *Log) Despites(design, revision string) []Entry {
	var out []Entry
	for _, e := range l.Entries {
		if e.Kind == Despite && e.Design == design && e.Revision == revision {
			out = append(out, e)
		}
	}
	return out
}

// Latest is the latest time that any record bears, zero for an empty ledger. A clock before it has jumped.
func (l *Log) Latest() time.Time {
	var t time.Time
	for _, e := range l.Entries {
		if e.At.After(t) {
			t = e.At
		}
	}
	return t
}

func (l *Log) last(match func(Entry) bool) (Entry, bool) {
	for _, e := range slices.Backward(l.Entries) {
		if match(e) {
			return e, true
		}
	}
	return Entry{}, false
}
