package picture

import (
	"fmt"
	"image"
	"image/draw"
	"sync"
	"sync/atomic"
)

// MaxTriangles is the most facets of a scene: their numbers have 32 bits, and a million takes about 0.4 s of
// one core (measured), so that so many take some twenty.
const MaxTriangles = 50_000_000

// MaxBodies is the most bodies of a scene.
const MaxBodies = 10_000

// Render draws bodies as large as the picture allows. Facets that name vertices which do not exist or are not
// finite are left out. Bodies with a Number get it beside the picture, with a line to where they show.
// An error means that the options or the number of facets are beyond what can be drawn.
func Render(bodies []Body, v View, o Options) (*image.NRGBA, error) {
	if err := o.check(); err != nil {
		return nil, err
	}
	n, err := o.side()
	if err != nil {
		return nil, err
	}
	if len(bodies) > MaxBodies {
		return nil, fmt.Errorf("a picture of %d bodies: at most %d can be drawn", len(bodies), MaxBodies)
	}
	bodies = present(bodies)
	if t := triangles(bodies); t > MaxTriangles {
		return nil, fmt.Errorf("a picture of %d triangles: at most %d can be drawn", t, MaxTriangles)
	}
	img := image.NewNRGBA(image.Rect(0, 0, o.Width, o.Height))
	inset := 0.0
	for _, b := range bodies {
		if b.Number > 0 {
			inset = insetOf(o)
			break
		}
	}
	s := &stage{camera: newCamera(bodies, v, o, n, inset), width: o.Width * n, height: o.Height * n, n: n}
	first := uint32(0)
	var pens []stamp
	for _, b := range bodies {
		s.solids = append(s.solids, newSolid(b, first, &s.camera))
		pens = append(pens, newStamp(b.Line*float64(n)))
		first += uint32(len(b.Mesh.Triangles))
	}
	var seen []shown
	if len(s.solids) > 0 {
		margin := reach(bodies, n)
		s.plan(margin)
		seen = s.draw(img, pens, margin, o.Workers)
	}
	if o.Paper != nil {
		flat := image.NewNRGBA(img.Rect)
		draw.Draw(flat, img.Rect, image.NewUniform(o.Paper.rgba()), image.Point{}, draw.Src)
		draw.Draw(flat, img.Rect, img, image.Point{}, draw.Over)
		img = flat
	}
	s.number(img, seen, inset, o)
	return img, nil
}

// present are the bodies that have something to draw.
func present(bodies []Body) []Body {
	var out []Body
	for _, b := range bodies {
		if b.Mesh != nil && len(b.Mesh.Triangles) > 0 {
			out = append(out, b)
		}
	}
	return out
}

// shown is where a body is seen: the middle of its longest run of samples in the row that halves what is seen of
// it, a place within its outline for sure.
type shown struct{ length, x, y int }

// sight is what is seen of a solid, row by row.
type sight []sightRow

type sightRow struct{ samples, length, middle int32 }

func (r sight) shown() shown {
	total := 0
	for _, x := range r {
		total += int(x.samples)
	}
	half := total / 2
	for y, x := range r {
		if half -= int(x.samples); half < 0 {
			return shown{int(x.length), int(x.middle), y}
		}
	}
	return shown{}
}

// draw renders all bands and returns where each solid with a number shows.
func (s *stage) draw(img *image.NRGBA, pens []stamp, margin, workers int) []shown {
	rows := make([]sight, len(s.solids)) // bands write to rows of their own
	for i := range rows {
		if s.solids[i].Number > 0 {
			rows[i] = make(sight, s.height)
		}
	}
	var next atomic.Int64
	work := func() {
		var c canvas
		for k := int(next.Add(1)) - 1; k < len(s.bands); k = int(next.Add(1)) - 1 {
			s.band(&c, img, pens, k, margin, rows)
		}
	}
	var wait sync.WaitGroup
	for range min(workers, len(s.bands)) - 1 {
		wait.Go(work)
	}
	work() // the last one on this goroutine
	wait.Wait()
	seen := make([]shown, len(s.solids))
	for i, r := range rows {
		seen[i] = r.shown()
	}
	return seen
}

func (s *stage) band(c *canvas, img *image.NRGBA, pens []stamp, k, margin int, rows []sight) {
	b := s.bands[k]
	if len(s.lists[k]) == 0 {
		return
	}
	c.reset(span{max(0, b.from-margin), min(s.height, b.to+margin)}, s.width)
	last := 0
	for _, id := range s.lists[k] {
		last = s.solidOf(id, last)
		x := &s.solids[last]
		i := id - x.first
		t := x.Mesh.Triangles[i]
		c.fill(id, &x.facets[i], x.points[t[0]], x.points[t[1]], x.points[t[2]])
	}
	s.lines(c, pens)
	s.runs(c, b, rows)
	s.resolve(c, b, img)
}

// runs notes what is seen of numbered solids in a band's rows.
func (s *stage) runs(c *canvas, b span, rows []sight) {
	numbered := false
	for _, r := range rows {
		numbered = numbered || r != nil
	}
	if !numbered {
		return
	}
	last := 0
	for y := b.from; y < b.to; y++ {
		row := c.ids[(y-c.rows.from)*c.width:][:c.width]
		for x := 0; x < len(row); {
			if row[x] == nothing {
				x++
				continue
			}
			last = s.solidOf(row[x], last)
			o := &s.solids[last]
			end := x + 1
			for end < len(row) && row[end]-o.first < uint32(len(o.facets)) {
				end++
			}
			if r := rows[last]; r != nil {
				r[y].samples += int32(end - x)
				if n := int32(end - x); n > r[y].length {
					r[y].length, r[y].middle = n, int32(x+end)/2
				}
			}
			x = end
		}
	}
}

// resolve turns the samples of a band into pixels.
func (s *stage) resolve(c *canvas, b span, img *image.NRGBA) {
	n := s.n
	per := n * n
	last := 0
	middle := float32(n-1) / 2
	inks := [2][3]int32{{int32(Ink[0]), int32(Ink[1]), int32(Ink[2])}, {int32(lightInk[0]), int32(lightInk[1]), int32(lightInk[2])}}
	for py := b.from / n; py < b.to/n; py++ {
		out := img.Pix[py*img.Stride:]
		top := (py*n - c.rows.from) * c.width
		sy := float32(py*n) + middle
		for px := range s.width / n {
			var ids [16]uint32
			var sum [3]int32
			covered, left := 0, 0
			at := top + px*n
			for j := range n {
				row := c.ids[at+j*c.width:][:n]
				mark := c.mark[at+j*c.width:][:n]
				for i, id := range row {
					if mark[i] != 0 {
						ink := &inks[0]
						if id != nothing {
							if last = s.solidOf(id, last); s.solids[last].light {
								ink = &inks[1]
							}
						}
						sum[0], sum[1], sum[2] = sum[0]+ink[0], sum[1]+ink[1], sum[2]+ink[2]
						covered++
					} else if id != nothing {
						ids[left] = id
						left++
					}
				}
			}
			covered += left
			if covered == 0 {
				continue
			}
			sx := float32(px*n) + middle
			for i := 0; i < left; {
				id := ids[i]
				weight := int32(1)
				for i++; i < left && ids[i] == id; i++ {
					weight++
				}
				last = s.solidOf(id, last)
				x := &s.solids[last]
				t := x.shade(id-x.first, sx, sy)
				sum[0], sum[1], sum[2] = sum[0]+t[0]*weight, sum[1]+t[1]*weight, sum[2]+t[2]*weight
			}
			p := out[px*4 : px*4+4 : px*4+4]
			half := int32(covered) / 2
			p[0] = uint8((sum[0] + half) / int32(covered))
			p[1] = uint8((sum[1] + half) / int32(covered))
			p[2] = uint8((sum[2] + half) / int32(covered))
			p[3] = uint8((covered*255 + per/2) / per)
		}
	}
}
