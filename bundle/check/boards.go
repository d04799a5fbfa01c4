package check

import (
	"fmt"
	"slices"
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/finding"
	"dropwright/bundle/unit"
)

// printPlay is how far prints lie off where they are drawn, mm (three of five sources on accuracy say 0.2).
const printPlay = 0.2

// boards: every board is seated, has room around it, and stands clear of what is to be free.
func boards(in *Input, r *report) {
	if in.Facts.Boards == nil {
		return
	}
	for _, p := range in.Facts.Boards.Profiles {
		r.findings = append(r.findings, p.Faults...)
	}
	var unplaced []string
	var at finding.Place
	doubt := doubtful(in)
	for i := range in.Facts.Boards.Seats {
		s := &in.Facts.Boards.Seats[i]
		x := &seatRules{in: in, r: r, s: s}
		x.use, x.at = seatUse(in.Design, s)
		if why := doubt[s.Mesh]; s.Mesh != "" && why != "" {
			r.unknown(x.at, variantName(s.Variant), s.Board+" in "+s.Part+": "+why)
			continue
		}
		x.judge()
		for _, n := range s.Unplaced {
			if !slices.Contains(unplaced, n) {
				unplaced = append(unplaced, n)
			}
			at = x.at
		}
	}
	if len(unplaced) > 0 {
		r.unknown(at, "", "what "+words(unplaced)+" leave"+third(len(unplaced))+" of the room around the board and before its ports: no `place` says where they sit")
	}
}

// words joins names as in a sentence.
func words(list []string) string {
	if len(list) < 2 {
		return strings.Join(list, "")
	}
	return strings.Join(list[:len(list)-1], ", ") + " and " + list[len(list)-1]
}

// seatUse is the manifest's entry of a seat, and where it stands.
func seatUse(d *design.Design, s *facts.Seat) (design.BoardUse, finding.Place) {
	v, _ := d.Variant(s.Variant)
	for _, b := range v.BoardList() {
		if string(b.Name.V) == s.Board {
			if b.SitsIn.Set() {
				return b, b.SitsIn.At
			}
			return b, b.Profile.At
		}
	}
	return design.BoardUse{}, v.At
}

type seatRules struct {
	in  *Input
	r   *report
	s   *facts.Seat
	use design.BoardUse
	at  finding.Place
}

func (x *seatRules) add(code, text, hint string) { x.r.add(code, x.at, x.s.Variant, text, hint) }

// show is the command that prints the figures of the board.
func (x *seatRules) show() string { return "`dropwright boards show " + x.s.Profile + "`" }

// owning puts behind a text what it rests on, where that is weak.
func owning(text string, weak []string) string {
	if len(weak) == 0 {
		return text
	}
	return text + " (" + strings.Join(weak, "; ") + ")"
}

func (x *seatRules) judge() {
	s := x.s
	name := s.Board + " (" + s.Profile + ")"
	for _, m := range s.Missing {
		where := name
		if s.Part != "" {
			where += " in " + s.Part
		}
		x.r.unknown(x.at, variantName(s.Variant), where+": "+m)
	}
	switch s.State {
	case facts.SeatUnknown:
		return
	case facts.SeatNone:
		x.add("seat-missing", owning(fmt.Sprintf("%s: no holes of %s lie where its mounts are%s", name, s.Part, nearest(s.Nearest)), s.Weak), "set the posts where "+x.show()+" puts the mounts, or mend sits_in")
		return
	case facts.SeatMirrored:
		x.add("seat-mirrored", fmt.Sprintf("%s: %s is the mirror image of what the board needs", name, s.Part), "export the part unmirrored; if the component side is to look at the posts, write seat: {face: down}")
		return
	case facts.SeatTyped:
		if x.typed(name); misplaced(s) {
			return // everything else would follow from that
		}
	case facts.SeatFound:
		x.found(name)
	}
	x.room(name)
	x.keepouts(name)
}

// nearest says what came nearest to a seat.
func nearest(n *facts.Misfit) string {
	if n == nil {
		return ""
	}
	var out []string
	for _, m := range n.Mounts {
		if m.Off == nil {
			out = append(out, m.ID+" has none within 8 mm")
		} else if !m.Met {
			out = append(out, fmt.Sprintf("%s is %s mm off", m.ID, mm(*m.Off)))
		}
	}
	return fmt.Sprintf("; the nearest holes fit %d of %d: %s", n.Fit, n.Of, strings.Join(out, ", "))
}

func (x *seatRules) found(name string) {
	s := x.s
	if n := len(s.Others); n > 0 {
		p := s.Others[0]
		x.add("seat-ambiguous", fmt.Sprintf("%s fits %s in %d ways: at %s turned %s°, and at %s turned %s°", name, s.Part, n+1, seatPlace(s.At), mm(s.Turn), seatPlace(p.At), mm(p.Turn)),
			fmt.Sprintf("write seat: {at: %s, turn: %s} if the first is meant", seatPlace(s.At), mm(s.Turn)))
	}
	for _, m := range s.Mounts {
		x.mount(name, m)
	}
}

// mount judges one mount of a board that was seated by its holes. What is missing under a screw that the
// manifest lists is said where the screw is judged.
func (x *seatRules) mount(name string, m facts.SeatMount) {
	allowed := printPlay
	why := "no play of the screw is known"
	if m.Play != nil {
		allowed += *m.Play
		why = fmt.Sprintf("%s mm play of the screw and %s mm of prints", mm(*m.Play), mm(printPlay))
	}
	switch {
	case !m.Met && x.screwed():
	case m.Off == nil && m.Support > 0:
		x.add("mount-missed", fmt.Sprintf("%s: %s carries mount %s, but has no hole there", name, x.s.Part, m.ID), "give the post a hole for the screw")
	case m.Off == nil:
		x.add("mount-missed", fmt.Sprintf("%s: %s has neither post nor hole at mount %s", name, x.s.Part, m.ID), "add the post; "+x.show()+" prints where")
	case !m.Met && m.Lower != nil && *m.Off <= allowed:
		x.add("mount-missed", fmt.Sprintf("%s: the hole under mount %s lies %s mm lower than those of the others", name, m.ID, mm(*m.Lower)), "bring its post to the height of the others")
	case *m.Off > allowed+1e-3:
		x.add("mount-missed", fmt.Sprintf("%s: the hole under mount %s is %s mm off; allowed are %s mm (%s)", name, m.ID, mm(*m.Off), mm(allowed), why), "move the post; "+x.show()+" prints where")
	}
}

// screwed tells that a fastener holds the board to its part, so that its holes are judged with it.
func (x *seatRules) screwed() bool {
	for _, f := range x.in.Design.Fasteners {
		if f.Only.Has(x.s.Variant) && string(f.Into.Part().V) == x.s.Part && slices.ContainsFunc(f.Through, func(n design.Val[design.Name]) bool { return string(n.V) == x.s.Board }) {
			return true
		}
	}
	return false
}

func (x *seatRules) typed(name string) {
	s := x.s
	if x.use.Seat.Where.Known() {
		x.at = x.use.Seat.Where
	}
	if !misplaced(s) {
		return
	}
	var off []string
	for _, m := range s.Mounts {
		switch {
		case m.Off == nil:
			off = append(off, m.ID+" has no hole within 8 mm")
		case !m.Met && m.Lower != nil && *m.Off <= printPlay:
			off = append(off, fmt.Sprintf("the hole of %s lies %s mm lower", m.ID, mm(*m.Lower)))
		case !m.Met:
			off = append(off, fmt.Sprintf("%s is %s mm off", m.ID, mm(*m.Off)))
		}
	}
	hint := "mend the seat, or leave it out: it is then found from the holes"
	if f := s.Found; f != nil {
		hint = fmt.Sprintf("the holes fit with seat: {at: %s, turn: %s}", seatPlace(f.At), mm(f.Turn))
	}
	x.add("seat-off", fmt.Sprintf("%s: the seat does not put its mounts over the holes of %s: %s", name, s.Part, strings.Join(off, ", ")), hint)
}

// misplaced tells that a typed seat does not meet the holes.
func misplaced(s *facts.Seat) bool {
	return s.State == facts.SeatTyped && slices.ContainsFunc(s.Mounts, func(m facts.SeatMount) bool { return !m.Met })
}

// seatPlace prints a point as the manifest writes it.
func seatPlace(p [3]float64) string {
	return fmt.Sprintf("[%s, %s, %s]", unit.Number(p[0]), unit.Number(p[1]), unit.Number(p[2]))
}

func (x *seatRules) room(name string) {
	s := x.s
	var weak []string
	for _, w := range s.Weak {
		if strings.HasPrefix(w, "outline") {
			weak = append(weak, w)
		}
	}
	tolerance := s.NeedGap - printPlay
	switch {
	case s.Inside:
		x.add("board-blocked", owning(fmt.Sprintf("%s: material of %s lies where the board is%s", name, s.Part, near(s.GapAt)), weak), "make the cavity larger, or move the posts")
	case s.Gap == nil:
	case *s.Gap < tolerance-1e-3:
		x.add("board-blocked", owning(fmt.Sprintf("%s: %s leaves %s mm beside the board%s; its outline may be %s mm larger", name, s.Part, mm(*s.Gap), near(s.GapAt), mm(tolerance)), weak), fmt.Sprintf("leave %s mm: %s mm for the outline and %s mm for the print", mm(s.NeedGap), mm(tolerance), mm(printPlay)))
	case *s.Gap < s.NeedGap-1e-3:
		x.add("board-close", owning(fmt.Sprintf("%s: %s leaves %s mm beside the board%s; needed are %s mm", name, s.Part, mm(*s.Gap), near(s.GapAt), mm(s.NeedGap)), weak), fmt.Sprintf("leave %s mm: %s mm for the outline and %s mm for the print", mm(s.NeedGap), mm(tolerance), mm(printPlay)))
	}
	if s.Inside {
		return // what lies in the board also lies over and under it
	}
	for _, o := range []struct {
		room *facts.Room
		code string
		text string
	}{{s.Above, "headroom-short", "over"}, {s.Below, "underside-short", "under"}} {
		if o.room == nil || o.room.Short == nil {
			continue
		}
		k := o.room.Short
		x.add(o.code, owning(fmt.Sprintf("%s: material stands %s mm %s the board at x %s, y %s; parts there may need %s mm", name, mm(k.Free), o.text, mm(k.At[0]), mm(k.At[1]), mm(k.Need)), weakBasis("heights", k.Basis)),
			fmt.Sprintf("leave %s mm %s the board; x and y are the board's own", mm(k.Need), o.text))
	}
}

// near says at which corner or edge a gap is smallest, in the board's own coordinates.
func near(at *[2]float64) string {
	if at == nil {
		return ""
	}
	return fmt.Sprintf(" at x %s, y %s", mm(at[0]), mm(at[1]))
}

func (x *seatRules) keepouts(name string) {
	for _, k := range x.s.Keepouts {
		if k.Hit == nil {
			continue
		}
		side := "over"
		if k.Hit.At[2] < 0 {
			side = "under"
		}
		text := fmt.Sprintf("%s mm %s the board at x %s, y %s", mm(k.Hit.Free), side, mm(k.Hit.At[0]), mm(k.Hit.At[1]))
		if k.Antenna {
			x.r.unknown(x.at, variantName(x.s.Variant), fmt.Sprintf("%s: how far %s weakens the antenna (keepout %s): its material begins %s; keep metal and water away from there", name, x.s.Part, k.ID, text))
			continue
		}
		need := "all the way"
		if k.Hit.Need > 0 {
			need = mm(k.Hit.Need) + " mm"
		}
		x.add("keepout-filled", owning(fmt.Sprintf("%s: material of %s stands in keepout %s (%s), %s; to be free: %s", name, x.s.Part, k.ID, k.Reason, text, need), weakBasis("keepouts", k.Hit.Basis)), "clear that space; "+x.show()+" draws it")
	}
	for _, h := range x.s.Headers {
		if h.Hit != nil {
			x.add("header-covered", fmt.Sprintf("%s: material of %s lies over header %s, %s mm from the board's face at x %s, y %s", name, x.s.Part, h.ID, mm(max(h.Hit[2], -h.Hit[2])), mm(h.Hit[0]), mm(h.Hit[1])), "cut it free, or take the warning as it is if the header is closed on purpose")
		}
	}
}
