package check

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/finding"
	"dropwright/bundle/unit"
)

// wiring: pins exist, polarity is right, volts and currents are within what parts and rails are rated for. What
// is dangerous gets a caution and is not judged at all.
func wiring(in *Input, r *report) {
	dangers(in, r)
	if in.Facts.Boards == nil {
		return
	}
	for _, v := range in.Design.VariantNames() {
		w := &wireRules{in: in, r: r, v: v}
		for i := range in.Facts.Boards.Wires {
			if x := &in.Facts.Boards.Wires[i]; x.Variant == v {
				w.wires = append(w.wires, x)
			}
		}
		w.judge()
	}
}

// The limits beyond which a voltage counts as dangerous: 60 V DC and 30 V AC, the usual limits of extra-low
// voltage (from memory, no source).
const (
	mostDC = 60.0
	mostAC = 30.0
)

const (
	mainsHint   = "have it designed and checked by somebody licensed or otherwise competent; this program gives no pass for it"
	lithiumHint = "have the cell, its protection and its place checked by somebody competent; this program gives no pass for it"
)

// dangers names everything marked or known as dangerous, each once.
func dangers(in *Input, r *report) {
	for i := range in.Design.Bought {
		b := &in.Design.Bought[i]
		switch dangerOf(b) {
		case "mains":
			at := b.Hazard.At
			if b.Hazard.V != "mains" {
				at = b.Name.At
			}
			r.add("mains-present", at, onlyOf(b), fmt.Sprintf("%s carries mains or more than %s V DC: its wiring is not judged here", b.Name.V, mm(mostDC)), mainsHint)
			r.unknown(at, "", "everything about the safety of "+string(b.Name.V)+": mains is outside what this program can judge")
		case "lithium":
			r.add("lithium-present", b.Hazard.At, onlyOf(b), fmt.Sprintf("%s holds lithium cells: its wiring and place are not judged here", b.Name.V), lithiumHint)
			r.unknown(b.Hazard.At, "", "everything about the safety of "+string(b.Name.V)+": lithium cells are outside what this program can judge")
		}
	}
	if in.Facts.Boards == nil {
		return
	}
	type key struct{ variant, rail string }
	done := map[key]bool{}
	for i := range in.Facts.Boards.Wires {
		w := &in.Facts.Boards.Wires[i]
		for k, e := range [2]*facts.End{&w.From, &w.To} {
			danger := railDanger(e.Rail)
			if danger == "" || done[key{w.Variant, e.Thing + "." + e.Rail.ID}] {
				continue
			}
			done[key{w.Variant, e.Thing + "." + e.Rail.ID}] = true
			at := endPlace(in.Design, w.Row, k)
			text := fmt.Sprintf("rail %s of %s", e.Rail.ID, e.Thing)
			if danger == "lithium" {
				r.add("lithium-present", at, w.Variant, text+" is fed by lithium cells: what is wired to it is not judged here", lithiumHint)
			} else {
				r.add("mains-present", at, w.Variant, fmt.Sprintf("%s carries mains, or more than %s V DC or %s V AC: what is wired to it is not judged here", text, mm(mostDC), mm(mostAC)), mainsHint)
			}
			r.unknown(at, w.Variant, "everything about the safety of "+text)
		}
	}
}

// onlyOf is the one variant that a bought part is for, "" for more.
func onlyOf(b *design.Bought) string {
	if len(b.Only) == 1 {
		return string(b.Only[0].V)
	}
	return ""
}

func dangerOf(b *design.Bought) string {
	for _, l := range b.Leads.Entries {
		if l.Value.V == "live" || l.Value.V == "neutral" {
			return "mains"
		}
	}
	switch {
	case b.Hazard.V == "mains" || b.Hazard.V == "lithium":
		return string(b.Hazard.V)
	case b.Volts.Set() && float64(b.Volts.High()) > mostDC:
		return "mains"
	}
	return ""
}

func railDanger(l *facts.Rail) string {
	if l == nil {
		return ""
	}
	if l.Hazard == "mains" || l.Hazard == "lithium" {
		return l.Hazard
	}
	most := 0.0
	for _, v := range []*float64{l.Volts, l.VoltsMin, l.VoltsMax} {
		if v != nil {
			most = max(most, math.Abs(*v))
		}
	}
	if most > mostDC || l.AC && most > mostAC {
		return "mains"
	}
	return ""
}

// endPlace is where one end of a row is written.
func endPlace(d *design.Design, row, end int) finding.Place {
	if row >= len(d.Wiring.Rows) {
		return d.Wiring.At
	}
	if end == 0 {
		return d.Wiring.Rows[row].From.At
	}
	return d.Wiring.Rows[row].To.At
}

// wireRules is the wiring of one variant.
type wireRules struct {
	in    *Input
	r     *report
	v     string
	wires []*facts.Wire
}

// node is a lead, a signal pin, or a rail.
type node struct {
	name string
	end  *facts.End
	at   finding.Place
}

// what an end carries, as far as it is known.
type carries string

const (
	supply  carries = "supply"
	ground  carries = "ground"
	signal  carries = "signal"
	unknown carries = ""
)

func sortOf(e *facts.End) carries {
	switch {
	case e.Kind == facts.EndLead:
		switch e.Role {
		case "supply", "plus":
			return supply
		case "ground", "minus":
			return ground
		case "signal", "input", "output":
			return signal
		}
		return unknown
	case e.Rail != nil && e.Rail.Role == "return":
		return ground
	case e.Rail != nil:
		return supply
	case e.Signal != "":
		return signal
	}
	return unknown
}

// nodeName is the same for all ends that are one thing electrically.
func nodeName(e *facts.End) string {
	if e.Rail != nil {
		return e.Thing + "." + e.Rail.ID
	}
	if e.Pin != "" {
		return e.Thing + "." + e.Pin
	}
	return e.Text
}

func (w *wireRules) judge() {
	w.ends()
	w.polarity()
	w.pins()
	w.loose()
	w.firmwarePins()
	for _, n := range w.nets() {
		w.net(n)
	}
}

// dangerous tells that an end is not to be judged.
func (w *wireRules) dangerous(e *facts.End) bool {
	if e.Kind == facts.EndLead {
		b, ok := w.in.Design.BoughtPart(e.Thing)
		return ok && dangerOf(&b) != ""
	}
	return railDanger(e.Rail) != ""
}

// unknown says what could not be judged; a design without variants has none to name.
func (w *wireRules) unknown(at finding.Place, v, text string) { w.r.unknown(at, variantName(v), text) }

func variantName(v string) string {
	if v == design.Plain {
		return ""
	}
	return v
}

// ends: both ends of every row exist, and it is known what they carry.
func (w *wireRules) ends() {
	for _, x := range w.wires {
		for k, e := range [2]*facts.End{&x.From, &x.To} {
			at := endPlace(w.in.Design, x.Row, k)
			switch {
			case e.Error != "":
				w.r.add("pin-unknown", at, w.v, e.Text+": "+e.Error, e.Hint)
			case e.Kind == facts.EndLead && e.Role == "":
				w.unknown(at, w.v, fmt.Sprintf("what %s carries: `leads` of %s do not say", e.Text, e.Thing))
			case e.Kind == facts.EndPin && e.Rail == nil && e.Signal == "":
				w.unknown(at, w.v, fmt.Sprintf("what is on %s: the profile does not say", e.Text))
			}
		}
	}
}

// polarity: like goes to like. Two leads of one part that are swapped are one finding.
func (w *wireRules) polarity() {
	type wrong struct {
		at         finding.Place
		text, hint string
		lead       *facts.End
		a, b       carries
	}
	var list []wrong
	for _, x := range w.wires {
		a, b := sortOf(&x.From), sortOf(&x.To)
		w.level(x)
		if a == unknown || b == unknown || a == b || w.dangerous(&x.From) || w.dangerous(&x.To) {
			continue
		}
		lead, other, ls, end := &x.From, &x.To, a, 1
		if lead.Kind != facts.EndLead {
			lead, other, ls, end = &x.To, &x.From, b, 0
		}
		at := endPlace(w.in.Design, x.Row, end)
		if other.Kind == facts.EndPin && sortOf(other) == signal && ls == supply {
			w.r.add("pin-signal", at, w.v, fmt.Sprintf("%s takes its supply from %s, a signal pin (%s)", lead.Text, other.Text, other.Signal), "take a rail of "+other.Thing+"; `dropwright boards show` prints them")
			continue
		}
		list = append(list, wrong{at: at, lead: lead, a: ls, b: sortOf(other),
			text: fmt.Sprintf("%s (%s) goes to %s (%s)", lead.Text, describe(lead), other.Text, describe(other)),
			hint: "mend the row, or the role of " + lead.Lead + " under leads of " + lead.Thing})
	}
	for i, x := range list {
		done := false
		for k, y := range list {
			if x.lead.Thing != y.lead.Thing || x.lead.Kind != facts.EndLead || x.a != y.b || x.b != y.a || i == k {
				continue
			}
			if done = true; k > i {
				w.r.add("lead-crossed", x.at, w.v, x.text+", and "+y.text+": the two are swapped", "swap the ends of the two rows, or their roles under leads of "+x.lead.Thing)
			}
			break
		}
		if !done {
			w.r.add("lead-crossed", x.at, w.v, x.text, x.hint)
		}
	}
}

// level: whether the logic of a pin suits a lead is not stated anywhere.
func (w *wireRules) level(x *facts.Wire) {
	for k, e := range [2]*facts.End{&x.From, &x.To} {
		other := &x.To
		if k == 1 {
			other = &x.From
		}
		if e.Level != nil && other.Kind == facts.EndLead && sortOf(other) == signal {
			w.unknown(endPlace(w.in.Design, x.Row, k), w.v, fmt.Sprintf("whether the %s of %s suit %s: no level of its signal is stated", volt(*e.Level), e.Text, other.Text))
		}
	}
}

// describe says what an end carries.
func describe(e *facts.End) string {
	switch {
	case e.Kind == facts.EndLead:
		return e.Role
	case e.Rail != nil && e.Rail.Role == "return":
		return "ground"
	case e.Rail != nil:
		return "supply " + e.Rail.ID
	}
	return "signal " + e.Signal
}

// pins: a pin takes one lead; a ground may be shared.
func (w *wireRules) pins() {
	type use struct {
		leads []string
		end   *facts.End
		at    finding.Place
	}
	var order []string
	exact, rails := map[string]*use{}, map[string]*use{}
	for _, x := range w.wires {
		for k, e := range [2]*facts.End{&x.From, &x.To} {
			if e.Kind == facts.EndLead || e.Error != "" || e.Rail != nil && e.Rail.Role == "return" || len(e.Pins) == 0 {
				continue
			}
			other := x.To.Text
			if k == 1 {
				other = x.From.Text
			}
			name := nodeName(e)
			if e.Kind == facts.EndPin {
				u := exact[e.Thing+"."+e.Pin]
				if u == nil {
					u = &use{}
					exact[e.Thing+"."+e.Pin] = u
					order = append(order, e.Thing+"."+e.Pin)
				}
				u.leads, u.end, u.at = append(u.leads, other), e, endPlace(w.in.Design, x.Row, k)
			}
			if e.Rail == nil {
				continue
			}
			u := rails[name]
			if u == nil {
				u = &use{}
				rails[name] = u
				order = append(order, "rail "+name)
			}
			u.leads, u.end, u.at = append(u.leads, other), e, endPlace(w.in.Design, x.Row, k)
		}
	}
	for _, name := range order {
		rail, isRail := strings.CutPrefix(name, "rail ")
		u := exact[name]
		if isRail {
			u = rails[rail]
		}
		most := 1
		if isRail {
			most = w.pinsOf(u.end)
		}
		if len(u.leads) <= most || isRail && slices.ContainsFunc(order, func(n string) bool {
			return exact[n] != nil && len(exact[n].leads) > 1 && nodeName(exact[n].end) == rail
		}) {
			continue // one pin twice is said of the pin
		}
		what := name
		if isRail {
			what = rail + " has " + pinCount(most)
		}
		w.r.add("pin-shared", u.at, w.v, fmt.Sprintf("%s: %d leads go there: %s", what, len(u.leads), words(u.leads)), "take another pin, or join the leads and wire one of them to the pin")
	}
}

// pinsOf is how many pins a rail has; an exact pin's end names only itself, so the rail's other ends are asked.
func (w *wireRules) pinsOf(e *facts.End) int {
	n := 0
	seen := map[string]bool{}
	for _, x := range w.wires {
		for _, o := range [2]*facts.End{&x.From, &x.To} {
			if o.Kind != facts.EndLead && nodeName(o) == nodeName(e) {
				for _, p := range o.Pins {
					if !seen[p] {
						seen[p] = true
						n++
					}
				}
			}
		}
	}
	return n
}

func pinCount(n int) string {
	if n == 1 {
		return "1 pin"
	}
	return fmt.Sprintf("%d pins", n)
}

// loose: a part that is wired has all of its supply and ground leads wired.
func (w *wireRules) loose() {
	for i := range w.in.Design.Bought {
		b := &w.in.Design.Bought[i]
		wired := map[string]bool{}
		for _, x := range w.wires {
			for _, e := range [2]*facts.End{&x.From, &x.To} {
				if e.Kind == facts.EndLead && e.Thing == string(b.Name.V) {
					wired[e.Lead] = true
				}
			}
		}
		if len(wired) == 0 || dangerOf(b) != "" {
			continue
		}
		for _, l := range b.Leads.Entries {
			role := string(l.Value.V)
			if !wired[l.Key] && (role == "supply" || role == "ground" || role == "plus" || role == "minus") {
				w.r.add("lead-loose", l.KeyAt, w.v, fmt.Sprintf("%s.%s (%s) goes nowhere, while other leads of %s are wired", b.Name.V, l.Key, role, b.Name.V), fmt.Sprintf("add a row: {from: %s.%s, to: …}", b.Name.V, l.Key))
			}
		}
	}
}

// nets joins everything that is wired together, in the order of the rows.
func (w *wireRules) nets() [][]node {
	var nets [][]node
	for _, x := range w.wires {
		joined := []node{{nodeName(&x.From), &x.From, endPlace(w.in.Design, x.Row, 0)}, {nodeName(&x.To), &x.To, endPlace(w.in.Design, x.Row, 1)}}
		var rest [][]node
		for _, n := range nets {
			if slices.ContainsFunc(n, func(a node) bool { return slices.ContainsFunc(joined, func(b node) bool { return b.name == a.name }) }) {
				joined = append(n, joined...)
			} else {
				rest = append(rest, n)
			}
		}
		nets = append(rest, joined)
	}
	for i, n := range nets {
		seen := map[string]bool{}
		nets[i] = slices.DeleteFunc(n, func(a node) bool {
			twice := seen[a.name]
			seen[a.name] = true
			return twice
		})
	}
	return nets
}

// source is what feeds a net.
type source struct {
	text      string
	low, high float64 // volts
	known     bool
	amps      *float64
	basis     string
}

// net judges volts and currents of what hangs together.
func (w *wireRules) net(n []node) {
	var feeds, takes []node
	for _, a := range n {
		if w.dangerous(a.end) {
			return
		}
		switch {
		case sortOf(a.end) != supply:
		case a.end.Kind == facts.EndLead && a.end.Role == "supply":
			takes = append(takes, a)
		case a.end.Kind == facts.EndLead || a.end.Rail.Role == "output":
			feeds = append(feeds, a)
		}
	}
	for _, a := range n { // a board's input is a load where something else feeds the net; by itself it passes on
		if a.end.Rail != nil && a.end.Rail.Role == "input" {
			if len(feeds) > 0 && feeds[0].end.Thing != a.end.Thing {
				takes = append(takes, a)
			} else if len(feeds) == 0 {
				feeds = append(feeds, a)
			}
		}
	}
	if len(takes) == 0 {
		return
	}
	if len(feeds) == 0 {
		if slices.ContainsFunc(n, func(a node) bool { return a.end.Error != "" || sortOf(a.end) == ground || sortOf(a.end) == signal }) {
			return // it is wired wrongly, which is said
		}
		w.unknown(takes[0].at, w.v, "what feeds "+takes[0].end.Text+": no supply is wired to it")
		return
	}
	s := w.source(feeds[0])
	sum, open := 0.0, []string{}
	for _, t := range takes {
		w.volts(s, t)
		if a, ok := w.draws(t); ok {
			sum += a
		} else {
			open = append(open, t.end.Thing)
		}
	}
	w.amps(s, feeds[0].at, takes, sum, open)
}

func (w *wireRules) source(a node) source {
	s := source{text: a.end.Text}
	if l := a.end.Rail; l != nil {
		s.text = "rail " + l.ID + " of " + a.end.Thing
		switch {
		case l.Volts != nil:
			s.low, s.high, s.known = *l.Volts, *l.Volts, true
		case l.VoltsMin != nil && l.VoltsMax != nil:
			s.low, s.high, s.known = *l.VoltsMin, *l.VoltsMax, true
		}
		s.amps, s.basis = l.Amps, l.Basis
		if l.Watts != nil && s.known && s.high != 0 {
			if a := *l.Watts / math.Abs(s.high); s.amps == nil || a < *s.amps {
				s.amps = &a
			}
		}
		return s
	}
	if b, ok := w.in.Design.BoughtPart(a.end.Thing); ok && b.Volts.Set() {
		s.low, s.high, s.known = float64(b.Volts.Low()), float64(b.Volts.High()), true
	}
	return s
}

// ratedSlack is how far a supply may be off a part that is rated for a single voltage, as a share: the
// tolerance that boards' own supplies have (PC/104 2.6, table 1: 5 %).
const ratedSlack = 0.05

// rating is what a consumer is rated for; ok is false when that is not stated.
func (w *wireRules) rating(t node) (low, high float64, starts *float64, ok bool) {
	if l := t.end.Rail; l != nil {
		switch {
		case l.VoltsMin != nil && l.VoltsMax != nil:
			return *l.VoltsMin, *l.VoltsMax, nil, true
		case l.Volts != nil:
			low, high = *l.Volts, *l.Volts
		default:
			return 0, 0, nil, false
		}
	} else {
		b, found := w.in.Design.BoughtPart(t.end.Thing)
		if !found || !b.Volts.Set() {
			return 0, 0, nil, false
		}
		low, high = float64(b.Volts.Low()), float64(b.Volts.High())
		if b.StartsAt.Set() {
			v := float64(b.StartsAt.V)
			starts = &v
		}
	}
	if low == high {
		low, high = low-math.Abs(low)*ratedSlack, high+math.Abs(high)*ratedSlack
	}
	return low, high, starts, true
}

func (w *wireRules) volts(s source, t node) {
	low, high, starts, ok := w.rating(t)
	switch {
	case !ok:
		w.unknown(t.at, w.v, fmt.Sprintf("volts of %s on %s: %s states no volts", t.end.Text, s.text, t.end.Thing))
		return
	case !s.known:
		w.unknown(t.at, w.v, fmt.Sprintf("volts of %s on %s: the supply's volts are not stated", t.end.Text, s.text))
		return
	}
	const hair = 1e-9
	gives := volt(s.low)
	if s.low != s.high {
		gives = unit.Number(s.low) + " to " + volt(s.high)
	}
	rated := unit.Number(round2(low)) + " to " + volt(round2(high))
	switch {
	case s.low >= low-hair && s.high <= high+hair:
	case s.high <= high+hair && starts != nil && s.low >= *starts-hair:
		w.r.add("volts-low", t.at, w.v, fmt.Sprintf("%s gets %s from %s; it is rated %s and starts at %s", t.end.Text, gives, s.text, rated, volt(*starts)), "nothing to do if slower or weaker is well; else take a higher rail")
	default:
		w.r.add("volts-outside", t.at, w.v, fmt.Sprintf("%s gets %s from %s; it is rated %s", t.end.Text, gives, s.text, rated), "take a rail within the rated range, or a converter")
	}
}

func volt(v float64) string { return unit.Voltage(v).String() }

func round2(v float64) float64 { return math.Round(v*100) / 100 }

// draws is what a consumer draws, in ampere.
func (w *wireRules) draws(t node) (float64, bool) {
	if l := t.end.Rail; l != nil {
		if l.Amps == nil {
			return 0, false
		}
		return *l.Amps, true
	}
	b, ok := w.in.Design.BoughtPart(t.end.Thing)
	if !ok || !b.Milliamps.Set() {
		return 0, false
	}
	return float64(b.Milliamps.V) / 1000 * max(1, b.CountOf(w.v)), true
}

func (w *wireRules) amps(s source, at finding.Place, takes []node, sum float64, open []string) {
	var names []string
	for _, t := range takes {
		if !slices.Contains(names, t.end.Thing) {
			names = append(names, t.end.Thing)
		}
	}
	milli := func(a float64) string { return unit.Current(math.Round(a * 1000)).String() }
	switch {
	case s.amps == nil:
		w.unknown(at, w.v, fmt.Sprintf("current of %s on %s: it is not known what that may give", words(names), s.text))
	case sum > *s.amps+1e-9:
		var weak []string
		if s.basis != "" {
			weak = []string{"limit: " + s.basis}
		}
		w.r.add("rail-overloaded", at, w.v, owning(fmt.Sprintf("%s draw%s %s from %s; it may give %s", words(names), third(len(names)), milli(sum), s.text, milli(*s.amps)), weak), "take another rail for one of them, or a supply of its own")
	case len(open) > 0:
		w.unknown(at, w.v, fmt.Sprintf("current of %s on %s (%s allowed): no milliamps stated", words(open), s.text, milli(*s.amps)))
	}
}

// third is the s of a verb after one name.
func third(n int) string {
	if n == 1 {
		return "s"
	}
	return ""
}
