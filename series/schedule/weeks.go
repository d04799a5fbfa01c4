package schedule

import (
	"fmt"
	"strings"
	"time"

	"dropwright/series/calendar"
	"dropwright/series/ledger"
)

// Standing is how far a week has come.
type Standing string

// The standings, in the order in which a design goes through them.
const (
	Free      Standing = "free"      // no design has this week
	Idea      Standing = "idea"      // a name, no folder
	Started   Standing = "started"   // a folder; files are missing
	MeshesIn  Standing = "meshes-in" // every file is there
	Accepted  Standing = "trials-accepted"
	Checked   Standing = "checked" // no errors
	Bundled   Standing = "bundled" // its bundles are fixed
	Handed    Standing = "handed-over"
	EarlyOut  Standing = "early-out"
	Late      Standing = "late" // a promised time has passed
	PublicOut Standing = "public-out"
	Withdrawn Standing = "withdrawn" // its newest revision
)

// Facts is what is known of a design's folder.
type Facts struct {
	Complete bool // every file that the manifest names is there
	Accepted bool // every part has an accepted trial
	Judged   bool // Errors is known
	Errors   int
}

// Week is one line of the schedule.
type Week struct {
	Week     int
	Design   string
	Revision string
	Early    time.Time // UTC: the day that stands, which may be a promised one or the one it went out for
	Public   time.Time // UTC
	State    Standing
	Why      string
	Notes    []string // clock changes, skipped days, leave; where series.yaml says another day than the ledger
}

// Weeks works out how every week stands. known measures a design; it is asked only for those whose standing
// depends on it, because it is slow.
func Weeks(in Input, known func(design string) Facts, now time.Time) []Week {
	p := newPlanner(in)
	var out []Week
	for _, slot := range in.Calendar.Slots() {
		early, _ := slot.Drop(calendar.Early)
		public, _ := slot.Drop(calendar.Public)
		w := Week{Week: slot.Week, Design: slot.Design, Early: early.UTC, Public: public.UTC, State: Free}
		for _, d := range slot.Drops {
			w.Notes = append(w.Notes, d.Notes...)
			due, note := p.stands(slot.Design, d)
			switch d.Audience {
			case calendar.Early:
				w.Early = due
			case calendar.Public:
				w.Public = due
			}
			if note != "" {
				w.Notes = append(w.Notes, note)
			}
		}
		switch {
		case slot.Design == "":
			w.Why = "no design has this week"
		case !in.Has(slot.Design):
			w.State, w.Why = Idea, "no folder yet: dropwright new "+slot.Design
			if !now.Before(early.UTC) {
				w.State, w.Why = Late, fmt.Sprintf("due %s, no folder yet", stamp(early.UTC))
			}
		default:
			p.standing(&w, slot, known, now)
		}
		out = append(out, w)
	}
	return out
}

// stands is the day of a drop that holds whatever series.yaml says by now: the one it went out for, or the one
// that was promised; with a note where the two differ.
func (p *planner) stands(design string, drop calendar.Drop) (due time.Time, note string) {
	if design == "" {
		return drop.UTC, ""
	}
	for _, d := range p.deliveries[design] {
		if d.Intent.Audience != drop.Audience || d.Outcome != ledger.Done && d.Outcome != ledger.HandedOver {
			continue
		}
		if !d.Intent.Due.Equal(drop.UTC) {
			note = fmt.Sprintf("%s went out to the %s audience for %s; series.yaml says %s now", design, drop.Audience, stamp(d.Intent.Due), drop.Local())
		}
		return d.Intent.Due, note
	}
	a := Action{Design: design, Audience: drop.Audience}
	a.date(p.dates[design], drop)
	return a.Due, strings.Join(a.Why, "; ")
}

// standing decides in the order of what matters most to the people who wait.
func (p *planner) standing(w *Week, slot calendar.Slot, known func(string) Facts, now time.Time) {
	w.Revision = p.in.Present(slot.Design)
	actions := p.design(slot, now)
	lead := p.leading(slot)
	ledDone, ledHanded, leadChannels := 0, 0, 0
	pubDone, pubHanded, pubChannels := 0, 0, 0
	newest := ""
	var late *Action
	for i, a := range actions {
		latest, _ := p.sent(slot.Design, a.Channel)
		done := latest != nil && a.State != HandedOver
		handed := latest != nil && a.State == HandedOver
		if latest != nil && (newest == "" || Newer(latest.Intent.Revision, newest)) {
			newest = latest.Intent.Revision
		}
		if a.Audience == lead {
			leadChannels, ledDone, ledHanded = leadChannels+1, ledDone+bit(done), ledHanded+bit(handed)
		}
		if a.Audience == calendar.Public {
			pubChannels, pubDone, pubHanded = pubChannels+1, pubDone+bit(done), pubHanded+bit(handed)
		}
		if latest == nil && (a.State == Due || a.State == Blocked) && now.After(a.Due) {
			late = &actions[i]
		}
	}
	entry, gone := p.withdrawn[[2]string{slot.Design, newest}]
	switch {
	case newest != "" && gone:
		w.State, w.Why, w.Revision = Withdrawn, entry.Because, newest
	case late != nil:
		w.State, w.Why = Late, fmt.Sprintf("due for %s at %s: %s", late.Channel, stamp(late.Due), strings.Join(late.Why, "; "))
	case pubChannels > 0 && pubDone == pubChannels:
		w.State, w.Revision = PublicOut, newest
	case ledHanded+pubHanded > 0:
		w.State, w.Why, w.Revision = Handed, "laid out for posting, not confirmed", newest
	case leadChannels > 0 && ledDone == leadChannels:
		w.State, w.Revision = EarlyOut, newest
	default:
		w.State, w.Why = p.folder(slot.Design, w.Revision, known)
	}
	if !gone && w.Revision != "" && newest != "" && Newer(p.in.Present(slot.Design), newest) {
		w.Why = strings.TrimPrefix(w.Why+"; correction "+p.in.Present(slot.Design)+" is under way", "; ")
	}
}

// folder is the standing of what has not gone out.
func (p *planner) folder(design, revision string, known func(string) Facts) (Standing, string) {
	if _, ok := p.in.Ledger.BundleOf(design, revision, calendar.Early); ok {
		return Bundled, "its bundles are fixed"
	}
	f := known(design)
	switch {
	case !f.Complete:
		return Started, "files are missing: dropwright check " + design
	case f.Judged && f.Errors == 0:
		return Checked, ""
	case f.Accepted:
		return Accepted, fmt.Sprintf("%d errors: dropwright check %s", f.Errors, design)
	case f.Judged:
		return MeshesIn, fmt.Sprintf("%d errors: dropwright check %s", f.Errors, design)
	}
	return MeshesIn, ""
}

// Dates are a week's promised drops as the ledger keeps them.
func Dates(slot calendar.Slot) []ledger.Date {
	var out []ledger.Date
	for _, d := range slot.Drops {
		out = append(out, ledger.Date{Audience: d.Audience, Local: fmt.Sprintf("%s %s", d.Date, d.Clock), Zone: d.Zone.Name(), UTC: d.UTC, Data: d.Zone.Data()})
	}
	return out
}
