package fit

import (
	"cmp"
	"slices"

	"dropwright/bundle/hardware"
)

// Pattern is holes of two shapes that lie alike, so that one screw each may join them.
type Pattern struct {
	Through   []int   // holes of the first shape's census, in the order of its spots
	Into      []int   // those of the second, in the same order
	Clearance float64 // mm that passes the first of Through
	Diameter  float64 // mm that passes the first of Into; across flats of a nut's pocket
}

// Shared lists the patterns of at least `least` (2 or more) holes that a screw of a size would pass in p and go
// into in q, each hole in one pattern only, the largest first. Only holes whose diameters suit the role count.
// allowance is by how much holes print smaller than drawn, mm on the diameter. freeP and freeQ say which holes
// may be used, nil: all. outer is the outer diameter of the insert, mm, 0: any published one of the thread.
func Shared(p, q *Shape, size hardware.Size, role Role, allowance, outer float64, least int, freeP, freeQ func(hole int) bool) []Pattern {
	cp := suited(p, want{role: Clearance, size: size, allowance: allowance}, freeP)
	cq := suited(q, want{role: role, size: size, allowance: allowance, outer: outer}, freeQ)
	if len(cp) < least || len(cq) < least || least < 2 {
		return nil
	}
	var out []Pattern
	usedP, usedQ := map[int]bool{}, map[int]bool{}
	for {
		best := pairing{value: -1}
		var bp, bq side
		for _, x := range without(sidesOf(cp, true), usedP) {
			for _, y := range without(sidesOf(cq, true), usedQ) {
				if len(x.spots) < least || len(y.spots) < least || len(x.spots) > mostSpots || len(y.spots) > mostSpots {
					continue
				}
				l := lay(x.spots, y.spots, mostSpots, patternPlay)
				if l.known && len(l.pairs) >= least && (len(l.pairs) > len(best.pairs) || len(l.pairs) == len(best.pairs) && l.value > best.value+1e-9) {
					best, bp, bq = l, x, y
				}
			}
		}
		if len(best.pairs) < least {
			break
		}
		slices.SortStableFunc(best.pairs, func(a, b pair) int { return cmp.Compare(bp.spots[a.a].cand, bp.spots[b.a].cand) })
		var x Pattern
		for i, l := range best.pairs {
			a, b := bp.spots[l.a].cand, bq.spots[l.b].cand
			usedP[a], usedQ[b] = true, true
			if i == 0 {
				x.Clearance, x.Diameter = round3(cp[a].passes), round3(cq[b].passes)
			}
			x.Through, x.Into = append(x.Through, cp[a].hole), append(x.Into, cq[b].hole)
		}
		out = append(out, x)
	}
	return out
}

// Suited lists the holes of a shape whose diameter suits a role and size, in census order; see Shared.
func Suited(s *Shape, size hardware.Size, role Role, allowance, outer float64) []int {
	var out []int
	for _, c := range suited(s, want{role: role, size: size, allowance: allowance, outer: outer}, nil) {
		out = append(out, c.hole)
	}
	return out
}

func suited(s *Shape, w want, free func(int) bool) []candidate {
	if w.role == Nut {
		w.nut, _ = hardware.NutOf(hardware.DefaultNut, w.size)
	}
	if !w.prepare() {
		return nil
	}
	var out []candidate
	for _, c := range w.candidates(s) {
		if c.score == 1 && (free == nil || free(c.hole)) {
			out = append(out, c)
		}
	}
	return out
}
