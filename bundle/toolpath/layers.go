package toolpath

import (
	"fmt"
	"math"
	"slices"
)

// mostHeights bounds the memory for different heights: 10 m of 0.05 mm layers.
const mostHeights = 200_000

// box bounds points along the axes, and along the diagonals x+y and x-y.
type box struct {
	any      bool
	min, max [5]float64
}

func (b *box) add(p [3]float64) {
	q := [5]float64{p[0], p[1], p[2], p[0] + p[1], p[0] - p[1]}
	if !b.any {
		b.any, b.min, b.max = true, q, q
		return
	}
	for i, v := range q {
		if v < b.min[i] {
			b.min[i] = v
		}
		if v > b.max[i] {
			b.max[i] = v
		}
	}
}

func (b *box) join(c *box) {
	switch {
	case !c.any:
	case !b.any:
		*b = *c
	default:
		for i := range b.min {
			b.min[i], b.max[i] = math.Min(b.min[i], c.min[i]), math.Max(b.max[i], c.max[i])
		}
	}
}

// widths are the widths along x, y and the two diagonals, mm.
func (b *box) widths() [4]float64 {
	return [4]float64{b.max[0] - b.min[0], b.max[1] - b.min[1], (b.max[3] - b.min[3]) / math.Sqrt2, (b.max[4] - b.min[4]) / math.Sqrt2}
}

// layers keeps what was printed at each height, in whole micrometres: files carry three decimals,
// and relative moves reach the same height with different last digits.
type layers struct {
	at     map[int64]*box
	z      float64 // height of now, if now is a layer
	now    *box
	rising box // what was fed while the head rose
	spiral bool
}

// enter makes now the box of a feeding move that starts at height z (machine axes).
func (l *layers) enter(z float64, rises, sideways bool) error {
	if rises {
		l.now = &l.rising
		l.spiral = l.spiral || sideways
		return nil
	}
	if l.now != nil && l.now != &l.rising && z == l.z {
		return nil
	}
	key := int64(math.Round(z * 1000))
	b := l.at[key]
	if b == nil {
		if len(l.at) == mostHeights {
			return fmt.Errorf("more than %d different heights: not a print of layers", mostHeights)
		}
		if l.at == nil {
			l.at = map[int64]*box{}
		}
		b = &box{}
		l.at[key] = b
	}
	l.now, l.z = b, z
	return nil
}

// sum fills in layers and bounds. The body starts at twice the lowest height: purge lines are drawn
// at or a little above the first layer, and the second layer lies at twice its height or above.
func (l *layers) sum(r *Result) {
	keys := make([]int64, 0, len(l.at))
	for k := range l.at {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	r.Layers = len(keys)
	var all, body box
	for _, k := range keys {
		all.join(l.at[k])
		if k >= 2*keys[0]-1 {
			body.join(l.at[k])
		}
	}
	all.join(&l.rising)
	body.join(&l.rising)
	if !body.any {
		body = all
	}
	r.Min, r.Max = [3]float64(all.min[:3]), [3]float64(all.max[:3])
	r.BodyMin, r.BodyMax = [3]float64(body.min[:3]), [3]float64(body.max[:3])
	w := body.widths()
	r.BodyDiagonal = [2]float64{w[2], w[3]}
}
