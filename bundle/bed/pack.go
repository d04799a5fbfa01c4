package bed

import (
	"cmp"
	"math"
	"slices"
)

// Pack lays the items out, several loads where needed. Each load keeps the list of largest free
// rectangles (the maximal-rectangles method, Jylänki 2010, from memory); parts are tried in a few
// orders and by a few rules, and the layout with the fewest loads, then the emptiest last load, is kept. It
// fails on figures that cannot be; a part that fits no load is in Unplaced.
func Pack(items []Item, b Bed) (Layout, error) {
	list, no, err := shapes(items, b)
	if err != nil {
		return Layout{}, err
	}
	var queue []queued
	for _, s := range list {
		for c := range items[s.item].Copies {
			queue = append(queue, queued{shape: s, copy: c + 1})
		}
	}
	orders := []func(s *shape) float64{longest, rectangle, shortest}
	rules := []rule{shortSide, leastArea, lowest}
	if len(queue) > 1000 {
		orders, rules = orders[:1], rules[:1] // many small parts: any order packs them well
	}
	var best []sheet
	last := math.Inf(1)
	for _, order := range orders {
		q := slices.Clone(queue)
		slices.SortStableFunc(q, func(a, b queued) int { return cmp.Compare(order(&b.shape), order(&a.shape)) })
		for _, r := range rules {
			sheets := place(q, b.room(), r)
			n := len(sheets)
			fill := 0.0
			if n > 0 {
				fill = sheets[n-1].filled
			}
			if best == nil || n < len(best) || n == len(best) && fill < last-slack {
				best, last = sheets, fill
			}
		}
	}
	l := Layout{Unplaced: no}
	for _, s := range best {
		l.Loads = append(l.Loads, s.load(items, b))
	}
	return l, nil
}

// queued is one copy waiting for its place.
type queued struct {
	shape
	copy int
}

// Orders in which parts are placed, greatest first.
func longest(s *shape) float64 { return math.Max(s.at[0].size[0], s.at[0].size[1]) }

func shortest(s *shape) float64 { return math.Min(s.at[0].size[0], s.at[0].size[1]) }

func rectangle(s *shape) float64 { return s.at[0].size[0] * s.at[0].size[1] }

// rect is a free rectangle: low corner, high corner.
type rect struct{ x0, y0, x1, y1 float64 }

// rule says how well a w x h rectangle suits a free one that holds it: the lower the better, the second
// number decides ties.
type rule func(f rect, w, h float64) (float64, float64)

func shortSide(f rect, w, h float64) (float64, float64) {
	dx, dy := f.x1-f.x0-w, f.y1-f.y0-h
	return math.Min(dx, dy), math.Max(dx, dy)
}

func leastArea(f rect, w, h float64) (float64, float64) {
	return (f.x1-f.x0)*(f.y1-f.y0) - w*h, math.Min(f.x1-f.x0-w, f.y1-f.y0-h)
}

func lowest(f rect, _, h float64) (float64, float64) { return f.y0 + h, f.x0 }

// sheet is a load being filled.
type sheet struct {
	free   []rect
	placed []put
	filled float64
}

// put is a copy and the low corner of its rectangle with brim and spacing.
type put struct {
	queued
	footprint
	x, y float64
}

// place puts every copy on the first load that has room for it.
func place(queue []queued, room [2]float64, r rule) []sheet {
	var sheets []sheet
	for _, q := range queue {
		done := false
		for i := range sheets {
			if done = sheets[i].put(q, r); done {
				break
			}
		}
		if !done {
			s := sheet{free: []rect{{0, 0, room[0], room[1]}}}
			s.put(q, r) // shapes has seen to it that it fits
			sheets = append(sheets, s)
		}
	}
	return sheets
}

// put finds the best free rectangle and turn for a copy.
func (s *sheet) put(q queued, r rule) bool {
	var best put
	a, b := math.Inf(1), math.Inf(1)
	for _, f := range q.at {
		w, h := f.size[0]+q.extra, f.size[1]+q.extra
		for _, free := range s.free {
			if w > free.x1-free.x0+slack || h > free.y1-free.y0+slack {
				continue
			}
			if c, d := r(free, w, h); c < a-slack || c < a+slack && d < b-slack {
				a, b, best = c, d, put{q, f, free.x0, free.y0}
			}
		}
	}
	if math.IsInf(a, 1) {
		return false
	}
	w, h := best.size[0]+q.extra, best.size[1]+q.extra
	s.take(rect{best.x, best.y, best.x + w, best.y + h})
	s.placed = append(s.placed, best)
	s.filled += w * h
	return true
}

// take cuts a rectangle out of the free ones and drops those that lie within another.
func (s *sheet) take(t rect) {
	var cut []rect
	keep := s.free[:0]
	for _, f := range s.free {
		if t.x0 >= f.x1-slack || t.x1 <= f.x0+slack || t.y0 >= f.y1-slack || t.y1 <= f.y0+slack {
			keep = append(keep, f)
			continue
		}
		if t.x0 > f.x0+slack {
			cut = append(cut, rect{f.x0, f.y0, t.x0, f.y1})
		}
		if t.x1 < f.x1-slack {
			cut = append(cut, rect{t.x1, f.y0, f.x1, f.y1})
		}
		if t.y0 > f.y0+slack {
			cut = append(cut, rect{f.x0, f.y0, f.x1, t.y0})
		}
		if t.y1 < f.y1-slack {
			cut = append(cut, rect{f.x0, t.y1, f.x1, f.y1})
		}
	}
	s.free = keep
	for i, c := range cut {
		inside := func(o rect) bool {
			return c.x0 >= o.x0-slack && c.y0 >= o.y0-slack && c.x1 <= o.x1+slack && c.y1 <= o.y1+slack
		}
		if slices.ContainsFunc(s.free, inside) || slices.ContainsFunc(cut[i+1:], inside) {
			continue
		}
		s.free = append(s.free, c)
	}
}

// load turns the rectangles into places on the bed.
func (s *sheet) load(items []Item, b Bed) Load {
	l := Load{Seconds: b.Start + b.ChangeOver}
	slices.SortStableFunc(s.placed, func(p, q put) int {
		return cmp.Or(cmp.Compare(p.item, q.item), cmp.Compare(p.copy, q.copy))
	})
	for _, p := range s.placed {
		it := &items[p.item]
		// The rectangle's low corner is half a spacing outside the brim, and the room begins half a
		// spacing outside the edge.
		off := b.Edge - b.Spacing/2
		l.Placed = append(l.Placed, Placed{
			Item: p.item, Copy: p.copy, Turn: p.turn, Size: p.size,
			Centre: [2]float64{off + p.x + (p.size[0]+p.extra)/2, off + p.y + (p.size[1]+p.extra)/2},
		})
		l.Used += p.area
		l.Seconds += it.Seconds
		l.Grams += it.Grams
	}
	l.Share = l.Used / (b.Size[0] * b.Size[1])
	return l
}
