package feed

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"dropwright/series/ledger"
)

// Drop is a day that a ledger promised one audience of one design.
type Drop struct {
	Design, Audience string
	Week             int // as last promised
	UID              UUID
	Due              time.Time // of one that was taken back: the last promised
	Sequence         int       // how often it moved, was taken back or promised again
	Created          time.Time
	Modified         time.Time
	Cancelled        bool
	Because          string // of its last change
}

// Drops lists every day that a ledger ever promised, by instant, then design and audience. Those that were taken
// back stay, cancelled.
func Drops(log *ledger.Log) []Drop {
	type key struct{ design, audience string }
	all := map[key]*Drop{}
	places := placesOf(log)
	for _, e := range log.Entries {
		if e.Kind != ledger.Promise && e.Kind != ledger.Move {
			continue
		}
		listed := map[string]bool{}
		for _, d := range e.Dates {
			listed[d.Audience] = true
			k := key{e.Design, d.Audience}
			x := all[k]
			if x == nil {
				all[k] = &Drop{Design: e.Design, Audience: d.Audience, Week: e.Week, UID: places.uid(d.Audience, e.Design), Due: d.UTC, Created: e.At, Modified: e.At}
				continue
			}
			if e.Week > 0 {
				x.Week = e.Week
			}
			if x.Cancelled || !x.Due.Equal(d.UTC) {
				x.Due, x.Cancelled = d.UTC, false
				x.change(e)
			}
		}
		for k, x := range all {
			if k.design == e.Design && !listed[k.audience] && !x.Cancelled {
				x.Cancelled = true
				x.change(e)
			}
		}
	}
	out := make([]Drop, 0, len(all))
	for _, x := range all {
		out = append(out, *x)
	}
	slices.SortFunc(out, func(a, b Drop) int {
		return cmp.Or(a.Due.Compare(b.Due), strings.Compare(a.Design, b.Design), strings.Compare(a.Audience, b.Audience))
	})
	return out
}

// change counts a change. A clock that went back does not make an event older than it was.
func (x *Drop) change(e ledger.Entry) {
	x.Sequence++
	x.Because = e.Because
	if e.At.After(x.Modified) {
		x.Modified = e.At
	}
}

// places is which design was the first, second, … to be promised for a week. A week that nobody was promised has an
// event already, and the design that takes it takes over the event's UID: whoever has it in a calendar sees it
// change, and no second one appear. What later moves in finds it taken and gets the next.
type places struct {
	root  UUID
	of    map[string][2]int // design -> week, turn
	taken map[int]int       // week -> how many
}

func placesOf(log *ledger.Log) places {
	p := places{Root(log), map[string][2]int{}, map[int]int{}}
	for _, e := range log.Entries {
		if _, known := p.of[e.Design]; e.Kind == ledger.Promise && !known {
			p.of[e.Design] = [2]int{e.Week, p.taken[e.Week]}
			p.taken[e.Week]++
		}
	}
	return p
}

func (p places) uid(audience, design string) UUID {
	if at, ok := p.of[design]; ok {
		return p.turn(audience, at[0], at[1])
	}
	return Derive(p.root, "drop "+audience+" "+design) // a move without a promise: a ledger put together by hand
}

func (p places) turn(audience string, week, n int) UUID {
	return Derive(p.root, fmt.Sprintf("drop %s week %d turn %d", audience, week, n))
}

// Turn is what keeps the name of a design's events the same: the week that it was first promised for, and how many
// others had been promised for that week before. For a design that nobody was promised it is what it would get in
// the given week.
func Turn(log *ledger.Log, design string, week int) (first, turn int) {
	p := placesOf(log)
	if at, ok := p.of[design]; ok {
		return at[0], at[1]
	}
	return week, p.taken[week]
}

// WeekUID is the UID of the event of a week whose design nobody was promised yet.
func WeekUID(log *ledger.Log, audience string, week int) UUID {
	p := placesOf(log)
	return p.turn(audience, week, p.taken[week])
}

// Opened is when a ledger was begun: the stamp of events that it does not know yet.
func Opened(log *ledger.Log) time.Time {
	first, _ := log.Entry(1)
	return first.At
}
