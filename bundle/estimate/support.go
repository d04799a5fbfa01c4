package estimate

import (
	"math"

	"dropwright/bundle/section"
)

// reach is how far (mm) a layer of the given height may stand out over the one below without support.
// The hundredth of a millimetre keeps slopes of exactly the limit (45 degree chamfers are common)
// on the side that needs none.
func (j *job) reach(height float64) float64 {
	return height*math.Tan(j.s.SupportAngle*math.Pi/180) + 0.01
}

// supports finds what lies under overhangs, from the top down: the support of a layer is that of the
// layer above and what of that layer stands out over this one, less this section itself. It reaches
// down to the bed or to the next surface, touches the part, and takes bridges for overhangs.
func (j *job) supports() {
	n, words := j.stack.Len(), j.g.words()
	slab := borrow((2*j.chunk + 1) * words)
	defer slabs.Put(&slab)
	sections, grown := make([]bitmap, j.chunk), make([]bitmap, j.chunk)
	for i := range j.chunk {
		sections[i] = slab[2*i*words : (2*i+1)*words]
		grown[i] = slab[(2*i+1)*words : (2*i+2)*words]
	}
	column := bitmap(slab[2*j.chunk*words:])
	clear(column)
	above := j.insides[0] // no longer needed: section of the layer above
	clear(above)
	pixel := j.g.px * j.g.px
	for to := n; to > 0; to -= j.chunk {
		from := max(to-j.chunk, 0)
		j.each(from, to, func(h *hand, k int) {
			a, g := sections[k-from], grown[k-from]
			j.outlines(h, k)
			h.paint.fill(a, h.edges)
			copy(g, a)
			if k+1 < n {
				h.paint.stamp(g, h.edges, j.reach(j.layers[k+1].height)/j.g.px, true)
			}
		})
		for k := to - 1; k >= from; k-- {
			a, g := sections[k-from], grown[k-from]
			for i := range column {
				column[i] = (column[i] | above[i]&^g[i]) &^ a[i]
			}
			l := &j.layers[k]
			if area := float64(column.count()) * pixel; area > 0 {
				l.support = area
				speed := j.m.Support
				if k == 0 {
					speed = math.Min(speed, j.m.First)
				}
				along, across := j.g.runs(column)
				l.seconds += hatch(&j.g, area, along, across, j.s.Line/j.s.SupportDensity, speed, j.m.Limits)
			}
			copy(above, a)
		}
	}
}

// drawBrim counts the first layer's rim outside the outer outlines (holes stay free) and its time:
// whole loops at the speed of the first layer.
func (j *job) drawBrim(h *hand, loops []section.Loop, flip bool) {
	h.edges = h.edges[:0]
	for i := range loops {
		if (loops[i].Area > 0) != flip {
			h.loopEdges(&j.g, loops[i].Points)
		}
	}
	b := h.solid
	h.paint.fill(b, h.edges)
	filled := b.count()
	h.paint.stamp(b, h.edges, j.s.Brim/j.g.px, true)
	j.brim = float64(b.count()-filled) * j.g.px * j.g.px
	j.brimTime = j.brim / j.s.Line / math.Min(j.m.Outline, j.m.First)
}
