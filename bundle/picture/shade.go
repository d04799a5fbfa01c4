package picture

import "math"

// Lights, as unit vectors in the camera's axes. The key light stands above the viewer's left shoulder, as
// is the custom of technical drawing; it falls on half of all directions with a soft end (half Lambert), so
// that of a box seen from Workbench the top keeps its colour, the left side 3/4 and the right 1/2 of it.
// The figures are chosen by looking: common practice, no source.
var keyLight = unit(vec{-0.45, 0.75, 0.5})

const (
	ambient = 0.27
	keyPart = 0.76
)

// darkest is the luminance below which a body's lines are light: on it, ink would not show.
const darkest = 0.03

// leastLight is the luminance that the blackest body has when it is fully lit; by eye.
const leastLight = 0.013

// lightInk is the colour of lines on such bodies.
var lightInk = Colour{0xc4, 0xc8, 0xce}

// toneSteps is how many tones a body has. 8-bit colours need no more, and fewer make smaller files.
const toneSteps = 160

// tones are a body's colours from unlit to fully lit.
type tones [toneSteps + 1][3]int32

func newTones(b Body) *tones {
	t := &tones{}
	var l [3]float64
	// A matt surface gives back a little of every light: without it, black shows no form.
	lift := math.Max(0, leastLight-luminance(b.Colour))
	for i, c := range b.Colour {
		l[i] = lift + linear(c)
	}
	for k := range t {
		v := float64(k) / toneSteps
		for i := range 3 {
			t[k][i] = int32(encoded(l[i] * v))
		}
		if b.Flat {
			t[k] = [3]int32{int32(b.Colour[0]), int32(b.Colour[1]), int32(b.Colour[2])}
		} else if k == toneSteps {
			t[k] = [3]int32{max(t[k][0], int32(b.Colour[0])), max(t[k][1], int32(b.Colour[1])), max(t[k][2], int32(b.Colour[2]))}
		}
	}
	return t
}

// linear and encoded are the transfer functions of sRGB (IEC 61966-2-1:1999).
func linear(c uint8) float64 {
	x := float64(c) / 255
	if x <= 0.04045 {
		return x / 12.92
	}
	return math.Pow((x+0.055)/1.055, 2.4)
}

func encoded(x float64) uint8 {
	if x <= 0.0031308 {
		x *= 12.92
	} else {
		x = 1.055*math.Pow(x, 1/2.4) - 0.055
	}
	return uint8(math.Round(clamp(x, 0, 1) * 255))
}

// luminance is the share of white's light (IEC 61966-2-1, ITU-R BT.709).
func luminance(c Colour) float64 {
	return 0.2126*linear(c[0]) + 0.7152*linear(c[1]) + 0.0722*linear(c[2])
}

// tone is how brightly a direction is lit, as an index of tones.
func tone(x, y, z float32) int {
	half := 0.5 + 0.5*(x*float32(keyLight[0])+y*float32(keyLight[1])+z*float32(keyLight[2]))
	k := int((ambient+keyPart*half)*toneSteps + 0.5)
	if k > toneSteps {
		return toneSteps
	}
	return max(k, 0)
}

// shade is a facet's colour at a sample.
func (x *solid) shade(i uint32, sx, sy float32) *[3]int32 {
	f := &x.facets[i]
	n := f.normal
	if x.corners.index != nil {
		if k := x.corners.index[i]; k >= 0 {
			n = x.blend(i, &x.corners.corners[k], sx, sy)
		}
	}
	return &x.tones[tone(n[0], n[1], n[2])]
}

// blend is the normal between the corners' at a sample, in the camera's axes and towards the eye. Corners are
// blended as seen in the picture; what perspective would change of that within a facet cannot be seen.
func (x *solid) blend(i uint32, corners *[3][3]float32, sx, sy float32) [3]float32 {
	t := x.Mesh.Triangles[i]
	a, b, c := x.points[t[0]], x.points[t[1]], x.points[t[2]]
	ux, uy, vx, vy := b.x-a.x, b.y-a.y, c.x-a.x, c.y-a.y
	area := ux*vy - uy*vx
	px, py := sx-a.x, sy-a.y
	wb := min(max((px*vy-py*vx)/area, 0), 1) // the middle of a pixel may lie beside the facet
	wc := min(max((ux*py-uy*px)/area, 0), 1)
	wa := max(1-wb-wc, 0)
	var own, n [3]float32
	for k := range 3 {
		own[k] = corners[0][k]*wa + corners[1][k]*wb + corners[2][k]*wc
	}
	for k := range 3 {
		n[k] = x.turn[k][0]*own[0] + x.turn[k][1]*own[1] + x.turn[k][2]*own[2]
	}
	l := float32(math.Sqrt(float64(n[0]*n[0] + n[1]*n[1] + n[2]*n[2])))
	if !(l > 0) {
		return x.facets[i].normal
	}
	f := x.facets[i].normal
	if n[0]*f[0]+n[1]*f[1]+n[2]*f[2] < 0 {
		l = -l // the back of the facet is seen
	}
	return [3]float32{n[0] / l, n[1] / l, n[2] / l}
}
