package section

import (
	"math"
	"slices"
)

// bridge joins the pieces of one hole, pocket or post that another hole crosses: between them part of
// the wall still stands, and the axis of a hole is in air. Across the inside of an enclosure nothing
// stands, so the same hole in two opposite walls stays two.
func (sw *sweep) bridge() {
	order := make([]int, len(sw.walls))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, j int) int { return sw.walls[i].first - sw.walls[j].first })
	gone := make([]bool, len(sw.walls))
	for n, i := range order {
		a := &sw.walls[i]
		if gone[i] || a.grow != 0 || a.hi > sw.hi-samePlaceLevel {
			continue
		}
		for _, j := range order[n+1:] {
			b := &sw.walls[j]
			if gone[j] || b.first <= a.last || !a.goesOn(&b.shape, b.z) || b.lo < a.hi-meetWithin {
				continue
			}
			if !sw.stands(a, b) {
				break
			}
			total := a.n + b.n
			f := float64(b.n) / float64(total)
			a.u += (b.u - a.u) * f
			a.v += (b.v - a.v) * f
			a.d += (b.d - a.d) * f
			a.n, a.last, a.hi, a.outmost[1] = total, b.last, b.hi, b.outmost[1]
			gone[j] = true
		}
	}
	kept := sw.walls[:0]
	for i, a := range sw.walls {
		if !gone[i] {
			kept = append(kept, a)
		}
	}
	sw.walls = kept
}

// spreadIslands takes a round wall for a part of a pocket, if farther along the same wall something
// stands inside: the inside of a round box above its posts is no hole for a screw.
func (sw *sweep) spreadIslands() {
	spread := false
	for i := range sw.walls {
		a := &sw.walls[i]
		if !a.hole || a.form == other || !a.island {
			continue
		}
		for j := range sw.walls {
			b := &sw.walls[j]
			if b.island || b.form != a.form || !b.hole || a.off(&b.shape) > sameWithin || math.Abs(a.d-b.d) > sameWithin {
				continue
			}
			if b.first > a.last && sw.stands(a, b) || a.first > b.last && sw.stands(b, a) {
				b.island, b.outline, spread = true, a.outline, true
			}
		}
	}
	if spread {
		sw.bridge()
	}
}

// stands tells whether part of the wall is there between a and b.
func (sw *sweep) stands(a, b *wall) bool {
	var heights []float64
	if b.lo > a.hi+samePlaceLevel {
		heights = append(heights, (a.hi+b.lo)/2)
	}
	// Walls change slowly where holes cross them: a few planes tell.
	between := b.first - a.last - 1
	for i := range min(between, bridgeSections) {
		heights = append(heights, sw.cuts[a.last+1+i*between/min(between, bridgeSections)].z)
	}
	// All heights at once would be faster for a wall that stands, but most do not.
	for _, z := range heights {
		var p probe
		n := ringPlaces
		switch {
		case a.form == other || a.island || b.island:
			outline := a.outline
			if outline == nil {
				outline = b.outline
			}
			p = gateProbe(outline, 0, z, 0)
			n = len(p.at) / 3
			p.at = p.at[:2*n]
		default:
			p.addRing(a.u, a.v, a.passes/2-probeBeyond, z)
			p.addRing(a.u, a.v, a.d/2+probeBeyond, z)
			p.at = append(p.at, [3]float64{a.u, a.v, z})
		}
		sw.ask(&p)
		wall := 0
		for i := range n {
			if p.in[i] != a.hole && p.in[n+i] == a.hole {
				wall++
			}
		}
		if float64(wall) < bridgeWall*float64(n) || len(p.at) == 2*ringPlaces+1 && a.hole && p.in[2*ringPlaces] {
			return false
		}
	}
	return true
}

// slant moves the ends of walls that a slanted or outwards curved face cuts to where the axis meets
// that face. Planes see only the part where the circle is whole.
func (sw *sweep) slant(rings []bore) {
	for i := range rings {
		b := &rings[i]
		if !sameDirection(b.frame.W, sw.frame.W) {
			continue
		}
		u, v, mid := sw.frame.In(b.frame.Point(b.u, b.v, (b.lo+b.hi)/2))
		shift := mid - (b.lo+b.hi)/2
		all := [2]float64{b.all[0] + shift, b.all[1] + shift}
		for j := range sw.walls {
			a := &sw.walls[j]
			if !a.hole || a.form == other || a.grow != 0 || math.Hypot(a.u-u, a.v-v) > axisWithin ||
				math.Abs(a.d-b.d) > 2*sameWithin || all[0] > a.lo+meetWithin || all[1] < a.hi-meetWithin {
				continue
			}
			for k, side := range [2]int{-1, +1} {
				end, face := a.endAt(side), [2]float64{b.lo, b.hi}[k]
				if s := b.saddle[k]; s.wave > 0 && sw.bulges(b, side) {
					face = s.mean + float64(side)*s.wave
				} else if !b.slanted[k] {
					continue
				}
				if float64(side)*(face+shift-*end) > 0 {
					*end, a.outmost[k] = face+shift, all[k]
				}
			}
		}
	}
}

// bulges tells whether the curved face at an end of a bore curves outwards, as the outside of a pipe
// does: going on from where the ring reaches farthest, an outward face stays as high, an inward one
// rises.
func (sw *sweep) bulges(b *bore, side int) bool {
	s := b.saddle[(side+1)/2]
	angle := s.crest
	if side < 0 {
		angle += math.Pi / 2
	}
	r := 0.65 * b.d
	at := b.frame.Point(b.u+r*math.Cos(angle), b.v+r*math.Sin(angle), s.mean+float64(side)*1.4*s.wave)
	u, v, w := sw.frame.In(at)
	p := probe{at: [][3]float64{{u, v, w}}}
	sw.ask(&p)
	return !p.in[0]
}
