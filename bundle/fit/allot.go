package fit

import (
	"cmp"
	"maps"
	"math"
	"slices"

	"dropwright/bundle/facts"
	"dropwright/bundle/section"
)

// answer is one way of giving holes to a joint.
type answer struct {
	use     [][]int           // by member, by screw: the candidate, -1 for missing
	place   [][]facts.FitHole // by member, by screw: low, off, place of the missing
	matched []bool            // by member
	unlike  []bool            // by member: its pattern is another one than the anchor's
	anchor  int
	full    int // screws that have a hole in every member
	value   float64
}

// allot gives the holes of all parts to the joints of one variant. Joints that find everything choose before
// those that do not, larger patterns before smaller ones, and of equals the one written first.
func allot(list []*joint) {
	taken := map[string]map[int]bool{} // by mesh file, by hole of the census
	open := slices.Clone(list)
	for len(open) > 0 {
		best, bestAt := answer{}, -1
		for i, j := range open {
			a := j.solve(taken)
			if bestAt < 0 || better(j, a, open[bestAt], best) {
				best, bestAt = a, i
			}
		}
		j := open[bestAt]
		j.laidOn = best.anchor
		for k, m := range j.parts {
			m.use, m.place, m.fact.Matched = best.use[k], best.place[k], best.matched[k]
			m.unlike = best.unlike[k]
			if m.shape == nil {
				continue
			}
			m.fact.Found = m.free(taken) * m.fact.Copies
			if taken[m.fact.File] == nil {
				taken[m.fact.File] = map[int]bool{}
			}
			for _, c := range m.use {
				if c >= 0 {
					taken[m.fact.File][m.cands[c].hole] = true
				}
			}
		}
		open = slices.Delete(open, bestAt, bestAt+1)
	}
}

func better(j *joint, a answer, k *joint, b answer) bool {
	whole := func(j *joint, a answer) bool { return a.full == j.fact.Count }
	if x, y := whole(j, a), whole(k, b); x != y {
		return x
	}
	if x, y := j.perCopy(), k.perCopy(); x != y {
		return x > y
	}
	return a.value > b.value+1e-9
}

// perCopy is the size of the pattern that a joint has in one copy of its parts.
func (j *joint) perCopy() int {
	n := j.fact.Count
	for _, m := range j.parts {
		if m.shape != nil {
			n = min(n, share(j.fact.Count, m.fact.Copies))
		}
	}
	return n
}

// share is how many of n screws fall on each of c copies.
func share(n, c int) int { return (n + max(1, c) - 1) / max(1, c) }

// free counts the candidates that no other joint has.
func (m *member) free(taken map[string]map[int]bool) int {
	n := 0
	for _, c := range m.cands {
		if !taken[m.fact.File][c.hole] {
			n++
		}
	}
	return n
}

// available is the sides of a member without the holes that are taken and with at most mostSpots on each.
func (m *member) available(taken map[string]map[int]bool, only map[int]bool) []side {
	var out []side
	for _, s := range m.sides {
		x := side{out: s.out, frame: s.frame}
		for _, p := range s.spots {
			if m.fixed || !taken[m.fact.File][m.cands[p.cand].hole] && (only == nil || only[p.cand]) {
				x.spots = append(x.spots, p)
			}
		}
		if len(x.spots) > mostSpots {
			slices.SortStableFunc(x.spots, func(a, b spot) int { return cmp.Compare(b.score, a.score) })
			x.spots = x.spots[:mostSpots]
		}
		if len(x.spots) > 0 {
			out = append(out, x)
		}
	}
	return out
}

// solve finds the best holes for a joint among those that are left.
func (j *joint) solve(taken map[string]map[int]bool) answer {
	n := j.fact.Count
	a := answer{use: make([][]int, len(j.parts)), place: make([][]facts.FitHole, len(j.parts)), matched: make([]bool, len(j.parts)), unlike: make([]bool, len(j.parts))}
	for k := range j.parts {
		a.use[k], a.place[k] = make([]int, n), make([]facts.FitHole, n)
		for s := range n {
			a.use[k][s] = -1
		}
	}
	var with []int // members that have holes
	for k, m := range j.parts {
		if m.fixed || m.shape != nil {
			with = append(with, k)
		}
	}
	if len(with) == 0 {
		return a
	}
	anchor := j.anchor(with)
	a.anchor = anchor
	done := false
	for _, k := range with {
		if k == anchor {
			continue
		}
		// The first counterpart settles which holes of the anchor are used; the others follow them.
		j.pairUp(&a, taken, anchor, k, done)
		done = true
	}
	if !done {
		j.count(&a, taken, anchor)
	}
	for s := range n {
		whole := true
		for _, k := range with {
			whole = whole && a.use[k][s] >= 0
			if c := a.use[k][s]; c >= 0 && !j.parts[k].fixed {
				a.value += j.parts[k].cands[c].score
			}
			if a.place[k][s].Low > seatPlay {
				whole = false
			}
		}
		if whole {
			a.full++
		}
	}
	a.value += float64(10 * a.full)
	return a
}

// anchor is the member the others are laid upon: a board's mounts are sure, then what holds the thread.
func (j *joint) anchor(with []int) int {
	for _, k := range with {
		if j.parts[k].fixed {
			return k
		}
	}
	return with[len(with)-1]
}

// copiesOf is how many copies share the screws; bought things are one.
func (m *member) copiesOf() int { return max(1, m.fact.Copies) }

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
	usedA := map[int]bool{}
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
		usedM := map[int]bool{}
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

// count takes the likeliest holes of a member without looking at a pattern.
func (j *joint) count(a *answer, taken map[string]map[int]bool, k int) {
	m := j.parts[k]
	taken = j.also(a, taken, k)
	if m.fixed {
		for s := range j.fact.Count {
			if s < len(m.given) {
				a.use[k][s] = s
			}
		}
		return
	}
	c := m.copiesOf()
	per := share(j.fact.Count, c)
	ranked := m.ranked(taken)
	for s := range j.fact.Count {
		if i := s % per; i < len(ranked) {
			a.use[k][s] = ranked[i]
		}
	}
}

// fill gives screws that found no hole by the pattern the likeliest of those left, where a part has no
// places of its own for them yet: a part with enough holes is not said to miss any.
func (j *joint) fill(a *answer, taken map[string]map[int]bool, k int, used map[int]bool) {
	m := j.parts[k]
	if m.fixed {
		return
	}
	c := m.copiesOf()
	per := share(j.fact.Count, c)
	if len(used) >= per {
		return
	}
	for s := range j.fact.Count {
		if a.use[k][s] >= 0 || a.place[k][s].Placed {
			continue
		}
		for _, r := range m.ranked(taken) {
			if !used[r] {
				a.use[k][s] = r
				a.matched[k] = false
				used[r] = true
				break
			}
		}
	}
}

// ranked is the free candidates, likeliest first.
func (m *member) ranked(taken map[string]map[int]bool) []int {
	var out []int
	for i, c := range m.cands {
		if !taken[m.fact.File][c.hole] {
			out = append(out, i)
		}
	}
	slices.SortStableFunc(out, func(x, y int) int {
		return cmp.Compare(m.cands[y].score+m.cands[y].alike, m.cands[x].score+m.cands[x].alike)
	})
	return out
}
