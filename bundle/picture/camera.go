package picture

import (
	"math"

	"dropwright/bundle/mesh"
)

// camera maps points to samples. Depth is a figure that is larger for what is nearer and that is affine over
// the picture for the points of a plane: the height towards the eye for an orthographic view, the reciprocal
// of the distance for a perspective one.
type camera struct {
	right, up, to vec     // unit vectors: of the picture's axes, and from the scene to the eye
	centre        vec     // middle of what is seen
	distance      float64 // of the eye from centre; 0: orthographic
	scale         float64 // samples for a millimetre (orthographic) or for a tangent of 1 (perspective)
	x, y          float64 // sample at which centre lies
}

// bound is a box around points in space.
type bound struct{ low, high vec }

func emptyBound() bound {
	inf := math.Inf(1)
	return bound{vec{inf, inf, inf}, vec{-inf, -inf, -inf}}
}

func (b *bound) grow(p vec) {
	for i, x := range p {
		if x < b.low[i] {
			b.low[i] = x
		}
		if x > b.high[i] {
			b.high[i] = x
		}
	}
}

func (b bound) empty() bool       { return !(b.low[0] <= b.high[0]) }
func (b bound) middle() vec       { return times(add(b.low, b.high), 0.5) }
func (b bound) size() vec         { return sub(b.high, b.low) }
func (b bound) diagonal() float64 { return length(b.size()) }
func (b bound) moved(v vec) bound { return bound{add(b.low, v), add(b.high, v)} }
func (b bound) with(o bound) bound {
	for i := range 3 {
		b.low[i], b.high[i] = math.Min(b.low[i], o.low[i]), math.Max(b.high[i], o.high[i])
	}
	return b
}

// boundOf is the box around a body where it is placed. Vertices that are not finite do not count.
func boundOf(b Body) bound {
	out := emptyBound()
	if b.Mesh == nil {
		return out
	}
	m := b.placed()
	for _, v := range b.Mesh.Vertices {
		if finite(v) {
			out.grow(m.Apply(wide(v)))
		}
	}
	return out
}

// newCamera looks at bodies so that they fill the picture less its margin. inset is further room on the left
// and right, pixels.
func newCamera(bodies []Body, v View, o Options, n int, inset float64) camera {
	if v.From == (vec{}) {
		p := v.Perspective
		v = Workbench
		v.Perspective = p
	}
	c := camera{to: unit(v.From), scale: 1}
	up := unit(v.Up)
	if up == (vec{}) {
		up = vec{0, 0, 1}
	}
	c.right = unit(cross(up, c.to))
	if c.right == (vec{}) { // looking along the upward direction: y is up, as on a plan
		c.right = unit(cross(vec{0, 1, 0}, c.to))
		if c.right == (vec{}) {
			c.right = vec{1, 0, 0}
		}
	}
	c.up = cross(c.to, c.right)

	all := emptyBound()
	for _, b := range bodies {
		if x := boundOf(b); !x.empty() {
			all = all.with(x)
		}
	}
	if all.empty() {
		return c
	}
	c.centre = all.middle()
	if v.Perspective > 0 {
		// The sphere around the box fits the angle of view, so that nothing lies behind the eye.
		half := math.Min(v.Perspective, 90) / 2 * math.Pi / 180
		c.distance = math.Max(all.diagonal()/2, 1e-6) / math.Sin(half)
	}
	// What the points span with scale 1 and no shift gives both.
	seen := emptyBound()
	for _, b := range bodies {
		m := c.matrix(b.placed())
		for _, p := range b.Mesh.Vertices {
			if finite(p) {
				x, y, _ := c.project(m.Apply(wide(p)))
				seen.grow(vec{x, y})
			}
		}
	}
	w := float64(o.Width) - 2*o.Margin - 2*inset
	h := float64(o.Height) - 2*o.Margin
	size := seen.size()
	c.scale = math.Min(w/math.Max(size[0], 1e-9), h/math.Max(size[1], 1e-9)) * float64(n)
	if size[0] < 1e-9 && size[1] < 1e-9 {
		c.scale = 1
	}
	mid := seen.middle()
	// Sample i stands for the interval from i to i+1: its middle is taken as the whole number.
	c.x = float64(o.Width*n)/2 - mid[0]*c.scale - 0.5
	c.y = float64(o.Height*n)/2 - mid[1]*c.scale - 0.5
	return c
}

// matrix maps a body's points to the camera's axes: x to the right, y up, z towards the eye, centre at 0.
func (c *camera) matrix(place mesh.Matrix) mesh.Matrix {
	axes := mesh.Matrix{}
	for i, a := range [3]vec{c.right, c.up, c.to} {
		axes[i] = [4]float64{a[0], a[1], a[2], -dot(a, c.centre)}
	}
	return place.Then(axes)
}

// project maps a point in the camera's axes to a sample and its depth.
func (c *camera) project(p vec) (x, y, depth float64) {
	if c.distance == 0 {
		return c.x + p[0]*c.scale, c.y - p[1]*c.scale, p[2]
	}
	depth = 1 / (c.distance - p[2])
	return c.x + p[0]*depth*c.scale, c.y - p[1]*depth*c.scale, depth
}

// step is the change of depth that stands for a length of one sample at a depth.
func (c *camera) step(depth float64) float64 {
	if c.distance == 0 {
		return 1 / c.scale
	}
	return depth / c.scale // d(1/w) = dw/w^2, and one sample is w/scale millimetres
}
