package fit

import (
	"cmp"
	"slices"

	"dropwright/bundle/facts"
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
