package fit

import (
	"maps"
	"math"
	"slices"

	"dropwright/bundle/section"
)

// pairUp lays the holes of member k on those of the anchor and writes the result into a. follow: the
// anchor's holes are settled by an earlier pair.
func (j *joint) pairUp(a *answer, taken map[string]map[int]bool, anchor, k int, follow bool) {
	n := j.fact.Count
	taken = j.also(a, taken, k)
	am, m := j.parts[anchor], j.parts[k]
	ca, cm := am.copiesOf(), m.copiesOf()
	rounds := max(ca, cm)
	if ca != 1 && cm != 1 && ca != cm { // who meets whom cannot be told
		j.count(a, taken, k)
		if !follow {
			j.count(a, taken, anchor)
		}
		return
	}
	per := share(n, rounds)
	screw := 0
	var onlyA, onlyM map[int]bool
	usedA, usedM := map[int]bool{}, map[int]bool{}
	if follow {
		onlyA = map[int]bool{}
		for _, c := range a.use[anchor] {
			onlyA[c] = true
		}
	}
	for r := range min(rounds, n) { // copies beyond the screws have none
		if ca == rounds && r > 0 { // the same holes again in the next copy
			usedA = map[int]bool{}
		}
		if cm == rounds { // a part that stands there once has other holes for the next copy of its counterpart
			usedM = map[int]bool{}
		}
		patterned := false // a pattern of this copy has been laid
		left := min(per, n-screw)
		for left > 0 {
			sa, sm := without(am.available(taken, onlyA), usedA), without(m.available(taken, onlyM), usedM)
			best, bi, bk := laySides(sm, sa, left, patternPlay)
			if whole(sa, per) && whole(sm, per) && per > 1 && !patterned && !best.known {
				// Both have the pattern, and no two holes lie equally far apart: perhaps all are a little off.
				if best, bi, bk = laySides(sm, sa, left, patternReach/2); !best.known {
					a.unlike[k] = true
				}
			}
			if bi < 0 || patterned && !best.known {
				break // a single hole somewhere else proves nothing
			}
			patterned = patterned || best.known
			before := left
			for _, p := range best.pairs {
				at := screw
				ac, mc := sa[bi].spots[p.b].cand, sm[bk].spots[p.a].cand
				if follow {
					at = indexOf(a.use[anchor], ac, screw, ca == rounds)
				}
				if at < 0 || at >= n {
					continue
				}
				a.use[anchor][at], a.use[k][at] = ac, mc
				if p.apart > patternPlay {
					a.place[lowOne(anchor, k, j)][at].Off = round3(p.apart)
				}
				a.place[anchor][at].Out, a.place[k][at].Out = sa[bi].out, sm[bk].out
				if p.low > seatPlay {
					a.place[lowOne(anchor, k, j)][at].Low = round3(p.low)
				}
				usedA[ac], usedM[mc] = true, true
				screw++
				left--
			}
			if left > 0 && best.known {
				got := j.beside(a, anchor, k, best, sa[bi], sm[bk], usedA, usedM, &screw, left, follow)
				left -= got
			}
			if left == before {
				break // the pairs found belong to no screw any more
			}
		}
		a.matched[k], a.matched[anchor] = true, true
		if rounds == cm && r == 0 && left == 0 && cm > 1 {
			onlyM = usedM
		}
		if rounds == ca && r == 0 && left == 0 && ca > 1 {
			onlyA = usedA
		}
		screw = min(n, (r+1)*per)
	}
	j.fill(a, taken, k, usedBy(a.use[k]))
	if !follow {
		j.fill(a, taken, anchor, usedBy(a.use[anchor]))
	}
}

// laySides lays the sides of one member on those of another and returns the best pairing with the indices of
// its sides in b and a; -1 when there is none.
func laySides(a, b []side, n int, play float64) (best pairing, bi, ai int) {
	best, bi, ai = pairing{value: -1}, -1, -1
	for x := range b {
		for y := range a {
			if p := lay(a[y].spots, b[x].spots, n, play); p.value > best.value+1e-9 && len(p.pairs) > 0 {
				best, bi, ai = p, x, y
			}
		}
	}
	return best, bi, ai
}

// whole tells whether one side has enough holes for the whole pattern.
func whole(sides []side, n int) bool {
	for _, s := range sides {
		if len(s.spots) >= n {
			return true
		}
	}
	return false
}

// also adds to the holes taken those that the same joint uses of the same mesh at another place: a screw
// through both lugs of a fork passes two holes of it.
func (j *joint) also(a *answer, taken map[string]map[int]bool, k int) map[string]map[int]bool {
	file := j.parts[k].fact.File
	var own map[int]bool
	for i, m := range j.parts {
		if i == k || m.shape == nil || m.fact.File != file {
			continue
		}
		for _, c := range a.use[i] {
			if c >= 0 {
				if own == nil {
					own = maps.Clone(taken[file])
					if own == nil {
						own = map[int]bool{}
					}
				}
				own[m.cands[c].hole] = true
			}
		}
	}
	if own == nil {
		return taken
	}
	out := maps.Clone(taken)
	out[file] = own
	return out
}

// lowOne is the member that is taken to be wrong where a face lies low or a hole beside its place: a part, and of two parts the one that holds the thread.
func lowOne(anchor, k int, j *joint) int {
	if j.parts[anchor].fixed {
		return k
	}
	return max(anchor, k)
}

func usedBy(use []int) map[int]bool {
	out := map[int]bool{}
	for _, c := range use {
		if c >= 0 {
			out[c] = true
		}
	}
	return out
}

// indexOf is the screw that has an anchor's hole; with copies of the anchor, the next from a screw on.
func indexOf(use []int, c, from int, copies bool) int {
	for s := range use {
		if use[s] == c && (!copies || s >= from) {
			return s
		}
	}
	return -1
}

func without(sides []side, used map[int]bool) []side {
	if len(used) == 0 {
		return sides
	}
	var out []side
	for _, s := range sides {
		x := side{out: s.out, frame: s.frame}
		for _, p := range s.spots {
			if !used[p.cand] {
				x.spots = append(x.spots, p)
			}
		}
		if len(x.spots) > 0 {
			out = append(out, x)
		}
	}
	return out
}

// beside deals with holes that have no counterpart where the pattern puts it: a hole a little off counts as
// misplaced, and where there is none the place is noted. It returns how many screws it settled.
func (j *joint) beside(a *answer, anchor, k int, p pairing, sa, sm side, usedA, usedM map[int]bool, screw *int, left int, follow bool) (settled int) {
	am, m := j.parts[anchor], j.parts[k]
	n := j.fact.Count
	place := func() int {
		if s := *screw; s < n {
			*screw++
			return s
		}
		return -1
	}
	for _, b := range sa.spots { // anchor's holes without a partner
		if settled == left || usedA[b.cand] {
			continue
		}
		near, dist := -1, patternReach
		for i, x := range sm.spots {
			at := p.move.apply(x.at)
			if d := math.Hypot(at[0]-b.at[0], at[1]-b.at[1]); !usedM[x.cand] && d <= dist {
				near, dist = i, d
			}
		}
		if near < 0 && len(sa.spots) > len(p.pairs)+left && !am.fixed {
			continue // more holes than needed: this one need not be meant
		}
		at := -1
		if follow {
			at = indexOf(a.use[anchor], b.cand, 0, false)
		} else {
			at = place()
		}
		if at < 0 {
			continue
		}
		a.use[anchor][at] = b.cand
		usedA[b.cand] = true
		settled++
		if near >= 0 {
			c := sm.spots[near].cand
			a.use[k][at] = c
			usedM[c] = true
			a.place[lowOne(anchor, k, j)][at].Off = round3(dist)
			continue
		}
		if !m.fixed {
			uv := p.move.inverse().apply(b.at)
			a.place[k][at].At, a.place[k][at].Placed = j.spotAt(sm, p, uv), true
		}
	}
	for _, x := range sm.spots { // the member's holes without a partner in the anchor
		if settled == left || usedM[x.cand] || am.fixed || follow {
			continue
		}
		if len(sm.spots) > len(p.pairs)+left {
			continue
		}
		at := place()
		if at < 0 {
			break
		}
		a.use[k][at] = x.cand
		usedM[x.cand] = true
		settled++
		a.place[anchor][at].At, a.place[anchor][at].Placed = j.spotAt(sa, p, p.move.apply(x.at)), true
	}
	return settled
}

// spotAt is the place in the part's own frame of a point of one of its sides, on the level of its holes.
func (j *joint) spotAt(s side, p pairing, uv [2]float64) [3]float64 {
	level := make([]float64, 0, len(s.spots))
	for _, x := range s.spots {
		level = append(level, x.level)
	}
	slices.Sort(level)
	w := level[len(level)/2]
	if s.frame == (section.Frame{}) {
		return [3]float64{round3(uv[0]), round3(uv[1]), 0}
	}
	if dot(s.frame.W, s.out) < 0 {
		w = -w
	}
	at := s.frame.Point(uv[0], uv[1], w)
	for i := range at {
		at[i] = round3(at[i])
	}
	return at
}
