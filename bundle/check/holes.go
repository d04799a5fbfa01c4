package check

import (
	"fmt"
	"strings"

	"dropwright/bundle/facts"
	"dropwright/bundle/hardware"
)

// holes: each member of a joint has a hole for each screw, of the right size, where its counterpart has it.
func (x *jointRules) holes() {
	for i := range x.j.Members {
		m := &x.j.Members[i]
		switch {
		case m.Kind == "board":
			x.boardHoles(m)
		case len(m.Holes) == 0 || m.Allowed == nil: // nothing measured, or a bought part
		default:
			x.missing(m)
			if x.sizes(m, i) {
				x.uneven(m)
			}
			x.around(m)
		}
	}
}

// where is a place in a part's own frame.
func where(at [3]float64) string {
	return fmt.Sprintf("x %.1f, y %.1f, z %.1f mm", at[0]+0, at[1]+0, at[2]+0)
}

// some is "the hole" or "2 of the 4 holes" with the place of the first.
func some(what string, bad []facts.FitHole, of int) string {
	at := ""
	if bad[0].Placed {
		at = " at " + where(bad[0].At)
	}
	if of == 1 {
		return "the " + what + at
	}
	if len(bad) == of {
		return fmt.Sprintf("all %d %ss", of, what)
	}
	if len(bad) == 1 {
		return "the " + what + at
	}
	return fmt.Sprintf("%d of the %d %ss, one%s,", len(bad), of, what, at)
}

func verb(bad []facts.FitHole, one, more string) string {
	if len(bad) == 1 {
		return one
	}
	return more
}

// each is a member's physical holes, one entry for each: copies of a part share theirs.
func each(m *facts.Member) []facts.FitHole {
	var out []facts.FitHole
next:
	for _, h := range m.Holes {
		for _, o := range out {
			if m.Copies > 1 && o.At == h.At && o.Missing == h.Missing {
				continue next
			}
		}
		out = append(out, h)
	}
	return out
}

// missing: holes that are not there, that lie too low, or beside their place.
func (x *jointRules) missing(m *facts.Member) {
	var gone, low, off []facts.FitHole
	n := 0
	for _, h := range each(m) {
		n++
		switch {
		case h.Missing:
			gone = append(gone, h)
		case h.Low > 0:
			low = append(low, h)
		case h.Off > 0:
			off = append(off, h)
		}
	}
	if u := m.Unlike; u != nil {
		x.add("hole-offset", x.at(m), fmt.Sprintf("%s: the holes of %s lie up to %s mm apart, those of %s up to %s mm: no turn or shift lays one on the other", x.j.Fastener, m.Name, mm(u.Span), u.Name, mm(u.Other)),
			"compare the distances of the holes of both parts in CAD")
	}
	code, what, verb := "hole-missing", "clearance hole", "passes"
	switch m.Role {
	case "thread":
		code, what, verb = "boss-missing", "pilot hole", "holds"
	case "insert":
		code, what, verb = "boss-missing", "insert hole", "holds"
	case "nut":
		code, what, verb = "nut-pocket-missing", "nut pocket", "holds"
	}
	if len(gone) > 0 && n-len(gone) < x.used(m) {
		if m.Role == "nut" && len(gone) == n {
			x.extra = append(x.extra, fmt.Sprintf("the nut pockets of %s: no hexagon of %s to %s mm across flats lies along a hole; a slot from the side is not recognised", m.Name, mm(m.Allowed.Min), mm(m.Allowed.Max)))
			return
		}
		var at []string
		for _, h := range gone {
			if h.Placed && len(at) < 4 {
				at = append(at, where(h.At))
			}
		}
		place := ""
		if len(at) > 0 {
			place = "; none at " + strings.Join(at, "; ")
		}
		have := n - len(gone)
		hint := fmt.Sprintf("add the %s in CAD (%s mm as drawn for %s) and export %s again", what, mm(m.Allowed.Usual), x.j.Size, m.File)
		if m.Role == "thread" && have == 0 {
			hint += fmt.Sprintf("; if it holds nuts, write into: {nut: ISO 4032, in: %s}", m.Name)
		}
		x.add(code, x.at(m), fmt.Sprintf("%s: %s has %d of the %d %ss needed (%s mm to %s mm as drawn)%s", x.j.Fastener, m.Name, have, n, what, mm(m.Allowed.Min), mm(m.Allowed.Max), place), hint)
	}
	for _, h := range low {
		x.add(code, x.at(m), fmt.Sprintf("%s: the hole of %s at %s lies %s mm lower than the others, where 0.5 mm would do: the screw %s nothing there", x.j.Fastener, m.Name, where(h.At), mm(h.Low), verb),
			fmt.Sprintf("raise its post by %s mm in CAD and export %s again", mm(h.Low), m.File))
	}
	for _, h := range off {
		x.add("hole-offset", x.at(m), fmt.Sprintf("%s: the hole of %s at %s lies %s mm beside the place that its counterpart gives it; 0.3 mm of play would do", x.j.Fastener, m.Name, where(h.At), mm(h.Off)),
			"compare the distances of the holes of both parts in CAD")
	}
}

// used is how many holes a member needs in each copy for the screws that the steps use: where the list holds
// more than that, the count is the finding, and the holes are not missing.
func (x *jointRules) used(m *facts.Member) int {
	n := len(each(m))
	items, _ := x.in.Design.Tally(x.j.Variant)
	for _, it := range items {
		if it.Name == x.j.Fastener && it.Used > 0 && it.Used < it.Listed {
			return min(n, (int(it.Used)+max(1, m.Copies)-1)/max(1, m.Copies))
		}
	}
	return n
}

// slack forgives the rounding of float32 meshes.
const slack = 1e-3 // mm

// sizes: diameters and depths against their bands; true when nothing was found.
func (x *jointRules) sizes(m *facts.Member, i int) (clean bool) {
	before := len(x.r.findings)
	var narrow, wide, shallow, deaf []facts.FitHole
	all := each(m)
	n := 0
	for _, h := range all {
		if h.Missing {
			continue
		}
		n++
		switch {
		case h.Passes < m.Allowed.Min-slack:
			narrow = append(narrow, h)
		case h.Passes > m.Allowed.Max+slack:
			wide = append(wide, h)
		}
		need := m.NeedDepth
		if m.Role == "insert" && h.Through {
			need = x.insertLength() // molten plastic leaves at the far end
		}
		if need > 0 && h.Depth < need-0.05 {
			shallow = append(shallow, h)
		}
		if m.Role == "nut" && h.Round == nil {
			deaf = append(deaf, h)
		}
	}
	as := fmt.Sprintf("draw it %s mm", mm(m.Allowed.Usual))
	switch m.Role {
	case "insert":
		x.band(m, "insert-hole-narrow", "insert hole", narrow, n, as)
		x.band(m, "insert-hole-wide", "insert hole", wide, n, as)
	case "nut":
		x.band(m, "nut-pocket-narrow", "nut pocket", narrow, n, as+" across the flats")
		x.band(m, "nut-pocket-wide", "nut pocket", wide, n, as+" across the flats")
		x.roundHoles(m, all)
	case "thread":
		x.band(m, "hole-narrow", "hole", narrow, n, as)
		x.band(m, "hole-wide", "hole", wide, n, as)
	default:
		x.band(m, "hole-narrow", "clearance hole", narrow, n, as)
		x.clearanceWide(m, i, wide, n, as)
	}
	if len(shallow) > 0 {
		h := shallow[0]
		if m.Role == "insert" {
			x.add("insert-hole-shallow", x.at(m), fmt.Sprintf("%s: %s of %s %s %s mm deep, needs %s mm (insert %s mm and the plastic it pushes ahead; common practice, no standard)", x.j.Fastener,
				some("insert hole", shallow, n), m.Name, verb(shallow, "is", "are"), mm(h.Depth), mm(m.NeedDepth), mm(x.insertLength())), fmt.Sprintf("deepen it by %s mm", mm(m.NeedDepth-h.Depth)))
		} else {
			x.add("nut-pocket-shallow", x.at(m), fmt.Sprintf("%s: %s of %s %s %s mm deep, the nut is %s mm high and stands out by %s mm", x.j.Fastener,
				some("nut pocket", shallow, n), m.Name, verb(shallow, "is", "are"), mm(h.Depth), mm(m.NeedDepth), mm(m.NeedDepth-h.Depth)), fmt.Sprintf("deepen it by %s mm", mm(m.NeedDepth-h.Depth)))
		}
	}
	if len(deaf) > 0 {
		x.add("nut-pocket-missing", x.at(m), fmt.Sprintf("%s: %s of %s (%s mm across flats) %s no hole of %s mm or more that leads to it", x.j.Fastener, some("nut pocket", deaf, n), m.Name,
			mm(deaf[0].Passes), verb(deaf, "has", "have"), mm(m.Clears.Min)), "add the screw's clearance hole on the pocket's axis")
	}
	return len(x.r.findings) == before
}

func (x *jointRules) insertLength() float64 {
	if h := x.f.Into.Held; h != nil && h.Insert != nil {
		return float64(h.Insert.Length.V)
	}
	return 0
}

// band reports holes outside their band.
func (x *jointRules) band(m *facts.Member, code, what string, bad []facts.FitHole, of int, hint string) {
	if len(bad) == 0 {
		return
	}
	h := worst(bad, m.Allowed)
	sides := ""
	if h.Diameter-h.Passes > 0.05 && h.Corners > 0 && m.Role != "nut" {
		sides = fmt.Sprintf(" between the flats of its %d sides (%s mm over the corners)", h.Corners, mm(h.Diameter))
	}
	for_ := x.j.Size
	if m.Role == "nut" || m.Role == "insert" {
		for_ = "the " + m.Role
	}
	x.add(code, x.at(m), fmt.Sprintf("%s: %s of %s %s %s mm as drawn%s; %s needs %s mm to %s mm (%s)", x.j.Fastener, some(what, bad, of), m.Name, verb(bad, "is", "are"),
		mm(h.Passes), sides, for_, mm(m.Allowed.Min), mm(m.Allowed.Max), basis(m.Allowed)), hint+"; then export "+m.File+" again")
}

func basis(b *facts.Band) string {
	if b.Caveat != "" {
		return b.Basis + "; " + b.Caveat
	}
	return b.Basis
}

// worst is the hole farthest outside its band.
func worst(bad []facts.FitHole, b *facts.Band) facts.FitHole {
	w, far := bad[0], -1.0
	for _, h := range bad {
		if d := max(b.Min-h.Passes, h.Passes-b.Max); d > far {
			w, far = h, d
		}
	}
	return w
}

// roundHoles: the holes that lead to nut pockets let the screw pass.
func (x *jointRules) roundHoles(m *facts.Member, all []facts.FitHole) {
	var narrow []facts.FitHole
	n := 0
	for _, h := range all {
		if h.Round == nil {
			continue
		}
		n++
		if h.Round.Passes < m.Clears.Min-slack {
			narrow = append(narrow, *h.Round)
		}
	}
	if len(narrow) > 0 {
		x.add("hole-narrow", x.at(m), fmt.Sprintf("%s: %s of %s %s %s mm as drawn; %s needs %s mm to %s mm (%s)", x.j.Fastener, some("hole to the nut", narrow, n), m.Name, verb(narrow, "is", "are"),
			mm(narrow[0].Passes), x.j.Size, mm(m.Clears.Min), mm(m.Clears.Max), basis(m.Clears)), fmt.Sprintf("draw it %s mm; then export %s again", mm(m.Clears.Usual), m.File))
	}
}

// clearanceWide: a clearance hole may be so wide that the head falls through, or only loose.
func (x *jointRules) clearanceWide(m *facts.Member, i int, wide []facts.FitHole, n int, hint string) {
	if len(wide) == 0 {
		return
	}
	head := 0.0
	if s, ok := hardware.ScrewOf(x.j.Standard, hardware.Size(x.j.Size)); ok && i == 0 {
		head = s.HeadDiameter
	}
	if h := worst(wide, m.Allowed); head > 0 && h.Passes-m.Allowance >= head {
		x.add("hole-wide", x.at(m), fmt.Sprintf("%s: %s of %s %s %s mm as drawn; the head, %s mm wide, falls through", x.j.Fastener, some("clearance hole", wide, n), m.Name, verb(wide, "is", "are"), mm(h.Passes), mm(head)), hint+" or put a washer under the head")
		return
	}
	x.band(m, "hole-loose", "clearance hole", wide, n, hint)
}

// unevenFrom is the spread of diameters from which holes for one fastener count as uneven, mm: published
// cases differ by 0.2 and more (4.5 to 4.7, 2.40 and 2.80), rounding of facets by 0.02.
const unevenFrom = 0.1

func (x *jointRules) uneven(m *facts.Member) {
	if m.Spread < unevenFrom {
		return
	}
	low, high := 1e9, 0.0
	for _, h := range m.Holes {
		if !h.Missing {
			low, high = min(low, h.Diameter), max(high, h.Diameter)
		}
	}
	x.add("hole-uneven", x.at(m), fmt.Sprintf("%s: the holes of %s for it differ: %s mm to %s mm as drawn", x.j.Fastener, m.Name, mm(low), mm(high)), fmt.Sprintf("draw all of them %s mm", mm(m.Allowed.Usual)))
}

// aroundSlack is how much less plastic than asked for goes without a word: facets cut 0.01 mm off a post.
const aroundSlack = 0.05 // mm

// around: the plastic around inserts and cut threads.
func (x *jointRules) around(m *facts.Member) {
	var thin []facts.FitHole
	n := 0
	for _, h := range each(m) {
		if h.Missing || h.Wall == 0 {
			continue
		}
		n++
		if m.NeedWall > 0 && h.Wall < m.NeedWall-aroundSlack || m.NeedBoss > 0 && h.Diameter+2*h.Wall < m.NeedBoss-aroundSlack {
			thin = append(thin, h)
		}
	}
	if len(thin) == 0 {
		return
	}
	h := thin[0]
	for _, t := range thin {
		if t.Wall < h.Wall {
			h = t
		}
	}
	caveat := weak(m.WallCaveat)
	if m.NeedWall > 0 {
		x.add("insert-wall-thin", x.at(m), fmt.Sprintf("%s: %s of %s %s %s mm of plastic around it, makers of such inserts ask for %s mm%s", x.j.Fastener, some("insert hole", thin, n), m.Name, verb(thin, "has", "have"),
			mm(h.Wall), mm(m.NeedWall), caveat), fmt.Sprintf("widen the boss by %s mm", mm(2*(m.NeedWall-h.Wall))))
		return
	}
	x.add("boss-thin", x.at(m), fmt.Sprintf("%s: %s of %s %s %s mm of plastic around it, a post for %s is %s mm wide: %s mm around a hole of %s mm%s", x.j.Fastener, some("hole", thin, n), m.Name, verb(thin, "has", "have"),
		mm(h.Wall), x.j.Size, mm(m.NeedBoss), mm((m.NeedBoss-h.Diameter)/2), mm(h.Diameter), caveat), fmt.Sprintf("widen the post by %s mm", mm(m.NeedBoss-h.Diameter-2*h.Wall)))
}

// boardHoles: the screw passes the board's mounting holes.
func (x *jointRules) boardHoles(m *facts.Member) {
	t, ok := hardware.ThreadOf(hardware.Size(x.j.Size))
	if !ok {
		return
	}
	for _, h := range m.Holes {
		if h.Diameter > 0 && h.Diameter < t.OutsideMax-slack {
			x.add("board-hole-narrow", x.at(m), fmt.Sprintf("%s: %s is up to %s mm thick, the mounting holes of %s are %s mm wide", x.j.Fastener, x.j.Size, mm(t.OutsideMax), m.Name, mm(h.Diameter)),
				"`dropwright boards` prints the screw that the profile names")
			return
		}
	}
}
