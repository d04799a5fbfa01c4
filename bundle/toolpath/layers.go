package toolpath

import (
	"fmt"
	"math"
	"slices"
)

// mostHeights bounds the memory for different heights: 10 m of 0.05 mm layers.
const mostHeights = 200_000

// box bounds points.
type box struct {
	any      bool
	min, max [3]float64
}

func (b *box) add(p [3]float64) {
	if !b.any {
		b.any, b.min, b.max = true, p, p
		return
	}
	for i, v := range p {
		if v < b.min[i] {
			b.min[i] = v
		}
		if v > b.max[i] {
			b.max[i] = v
		}
	}
}

func (b *box) join(c *box) {
	if c.any {
		b.add(c.min)
		b.add(c.max)
	}
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
	r.Min, r.Max, r.BodyMin, r.BodyMax = all.min, all.max, body.min, body.max
}
