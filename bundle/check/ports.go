package check

import (
	"fmt"
	"math"
	"strings"

	"dropwright/bundle/board"
	"dropwright/bundle/facts"
)

// weakBasis owns up to how a figure is known, where that is weak.
func weakBasis(what, basis string) []string {
	if !board.WeakBasis(basis) {
		return nil
	}
	return []string{what + ": " + board.BasisWords(basis)}
}

// ports: the plug of every port reaches it, through whatever stands before it.
func ports(in *Input, r *report) {
	if in.Facts.Boards == nil {
		return
	}
	for i := range in.Facts.Boards.Seats {
		s := &in.Facts.Boards.Seats[i]
		x := &seatRules{in: in, r: r, s: s}
		x.use, x.at = seatUse(in.Design, s)
		if misplaced(s) {
			continue
		}
		blocked := map[string]bool{}
		for k := range s.Ports {
			f := &s.Ports[k]
			if f.Verdict == facts.PortUnknown {
				x.r.unknown(x.at, variantName(s.Variant), fmt.Sprintf("port %s of %s as %s: %s unknown", f.ID, s.Board, f.Connector, strings.Join(f.Missing, ", ")))
				continue
			}
			x.port(f, blocked)
		}
		for _, c := range s.Crowded {
			x.add("plugs-crowded", owning(fmt.Sprintf("%s: the largest plugs of %s and %s overlap by %s mm", s.Board, c.A, c.B, mm(c.Overlap)), c.Weak), "tell builders to use slim cables there")
		}
	}
}

func (x *seatRules) port(f *facts.PortFit, blocked map[string]bool) {
	what := fmt.Sprintf("port %s of %s (%s)", f.ID, x.s.Board, f.Connector)
	if f.Other { // an alternative is of interest only where the port's own connector is well
		if f.Verdict == facts.PortBlocked && !blocked[f.ID] {
			x.add("port-other", owning(what+", which some boards have instead: "+wall(f), f.Weak), x.widen(f))
		}
		return
	}
	switch {
	case f.Verdict == facts.PortFree:
	case f.Verdict == facts.PortTight && f.Setback != nil:
		limit := fmt.Sprintf("its face is %s mm behind the outer face, and up to %s mm small plugs reach", mm(*f.Setback), mm(f.MaySet))
		if f.Strict > 0 && *f.Setback > f.Strict {
			limit += fmt.Sprintf(" (a stricter source says %s mm)", mm(f.Strict))
		}
		x.add("port-tight", owning(what+": small plugs only: "+wall(f)+"; "+limit, f.Weak), x.widen(f))
	case f.Verdict == facts.PortTight:
		x.add("port-tight", owning(what+": "+wall(f), f.Weak), x.widen(f))
	default:
		blocked[f.ID] = true
		code := "port-blocked"
		if !f.Required {
			code = "port-covered"
		}
		x.add(code, owning(what+": "+wall(f)+behind(f), f.Weak), x.widen(f))
	}
}

// plugSize prints the plug's section.
func plugSize(f *facts.PortFit) string {
	if f.Round {
		return "Ø" + mm(f.Plug[0]) + " mm"
	}
	return mm(f.Plug[0]) + " x " + mm(f.Plug[1]) + " mm"
}

// wall says what stands in the way: the opening found against the plug.
func wall(f *facts.PortFit) string {
	if f.Body {
		return "material stands where the receptacle itself is"
	}
	open := openingWords(f.Opening)
	if f.Verdict == facts.PortTight && f.Setback == nil {
		return fmt.Sprintf("the plug (%s) passes with %s mm; needed are %s mm a side; %s", plugSize(f), mm(f.Clearance), mm(f.Need), open)
	}
	return fmt.Sprintf("the wall covers %.0f %% of the plug (%s); %s", math.Max(1, 100*f.Blocked), plugSize(f), open)
}

// openingWords prints the smallest opening found around the plug's axis.
func openingWords(w *facts.Window) string {
	if w == nil {
		return "no opening was found"
	}
	part := func(low, high *float64) string {
		if low == nil || high == nil {
			return "open"
		}
		return mm(*low+*high) + " mm"
	}
	side := func(v *float64) string {
		if v == nil {
			return "open"
		}
		return mm(*v)
	}
	if w.Left != nil && w.Right != nil && *w.Left+*w.Right == 0 {
		return "the wall is closed before it"
	}
	return fmt.Sprintf("the opening is %s wide, %s high (from the plug's axis: left %s, right %s, down %s, up %s)", part(w.Left, w.Right), part(w.Down, w.Up), side(w.Left), side(w.Right), side(w.Down), side(w.Up))
}

// behind says why the small opening does not do.
func behind(f *facts.PortFit) string {
	switch {
	case f.Body || f.Setback == nil:
		return ""
	case f.MaySet == 0:
		return fmt.Sprintf("; its face is %s mm behind the outer face, and no source says up to where a smaller opening does", mm(*f.Setback))
	case *f.Setback > f.MaySet:
		return fmt.Sprintf("; its face is %s mm behind the outer face, and only up to %s mm a smaller opening does", mm(*f.Setback), mm(f.MaySet))
	}
	return "; the opening is too small for the receptacle's shell too"
}

// widen is what to cut.
func (x *seatRules) widen(f *facts.PortFit) string {
	if f.Body {
		return "cut the wall free around the receptacle; `dropwright boards show " + x.s.Profile + "` prints its body"
	}
	size := fmt.Sprintf("%s x %s mm", mm(f.Plug[0]+2*f.Need), mm(f.Plug[1]+2*f.Need))
	if f.Round {
		size = "Ø" + mm(f.Plug[0]+2*f.Need) + " mm"
	}
	return fmt.Sprintf("open the wall to %s around the plug's axis, which in %s is at %s", size, x.s.Part, seatPlace(f.Axis))
}
