package picture

import (
	"fmt"
	"image/color"
	"math"
	"strconv"

	"dropwright/bundle/mesh"
)

// CreaseAngle is the angle in degrees between two facets from which their edge is drawn, and up to which a
// surface counts as smooth: a cylinder is round from 11 sides on, and a chamfer of 45 degrees keeps its
// edges (common practice, no source).
const CreaseAngle = 35

// MaxSide is the longest side of a picture in pixels: 1:1 for A3 at 500 dpi (common practice, no source).
const MaxSide = 8192

// Thin is the width of the line for what was there, as a share of the width for what is added
// (ISO 128-2:2020: narrow to wide is 1:2).
const Thin = 0.5

// Colour is an sRGB colour without transparency.
type Colour [3]uint8

// Ink is the colour of lines: near black, as drawing ink is.
var Ink = Colour{0x1c, 0x1f, 0x24}

// White is the colour of paper.
var White = Colour{0xff, 0xff, 0xff}

// ParseColour reads "#8a5a44"; ok is false for anything else.
func ParseColour(s string) (c Colour, ok bool) {
	if len(s) != 7 || s[0] != '#' {
		return Colour{}, false
	}
	n, err := strconv.ParseUint(s[1:], 16, 32)
	if err != nil {
		return Colour{}, false
	}
	return Colour{uint8(n >> 16), uint8(n >> 8), uint8(n)}, true
}

// Mix is c with the share t (0 to 1) of d in it.
func (c Colour) Mix(d Colour, t float64) Colour {
	var out Colour
	for i := range c {
		out[i] = uint8(math.Round(float64(c[i]) + (float64(d[i])-float64(c[i]))*t))
	}
	return out
}

func (c Colour) rgba() color.NRGBA { return color.NRGBA{c[0], c[1], c[2], 0xff} }

// Body is one solid of a scene. Its mesh is not changed, so one mesh may stand in many bodies.
type Body struct {
	Mesh   *mesh.Mesh  // nil draws nothing
	Place  mesh.Matrix // the zero value leaves it where it is
	Colour Colour
	Line   float64 // width of its lines in pixels; 0 draws none
	Number int     // item number beside the picture; 0 for none
	Flat   bool    // drawn in its colour without shade and lines
	// Away is the way the body leaves the others when they are taken apart; zero lets Explode find it.
	Away [3]float64
	Keep bool // Explode does not move it
}

// placed is the body's place with the zero value read as "where it is".
func (b Body) placed() mesh.Matrix {
	if b.Place == (mesh.Matrix{}) {
		return mesh.Identity
	}
	return b.Place
}

// Moved is the body shifted by v millimetres.
func (b Body) Moved(v [3]float64) Body {
	b.Place = b.placed().Then(mesh.Shift(v[0], v[1], v[2]))
	return b
}

// View is where a scene is looked at from. The zero value is Workbench.
type View struct {
	From        [3]float64 // direction from the scene to the eye; any length
	Up          [3]float64 // what is up in the picture; zero: z
	Perspective float64    // angle of view in degrees, up to 90; 0 is orthographic
}

// Workbench looks from the front, above and a little from the right, as at a part on a bench: the three
// directions of a box (side, front, top) show with 0.44, 0.71 and 0.55 of their area, so that none is lost.
var Workbench = View{From: [3]float64{0.62, -1, 0.78}}

// Options says how large and how fine a picture is.
type Options struct {
	Width, Height int     // pixels, 1 to MaxSide
	Samples       int     // for each pixel: 1, 4, 9 or 16; 0 means 4
	Margin        float64 // free pixels on each side; lines reach half their width into it
	Paper         *Colour // background; nil leaves it transparent
	Workers       int     // bands drawn at once; 0 or 1: one. The picture does not depend on it.
}

// side is how many samples stand in a row of a pixel.
func (o Options) side() (int, error) {
	switch o.Samples {
	case 0, 4:
		return 2, nil
	case 1:
		return 1, nil
	case 9:
		return 3, nil
	case 16:
		return 4, nil
	}
	return 0, fmt.Errorf("%d samples for each pixel: expected 1, 4, 9 or 16", o.Samples)
}

func (o Options) check() error {
	if o.Width < 1 || o.Height < 1 || o.Width > MaxSide || o.Height > MaxSide {
		return fmt.Errorf("picture of %d x %d pixels: expected sides from 1 to %d", o.Width, o.Height, MaxSide)
	}
	if !(o.Margin >= 0) || 2*o.Margin >= float64(min(o.Width, o.Height)) {
		return fmt.Errorf("margin of %g pixels leaves nothing of a picture of %d x %d", o.Margin, o.Width, o.Height)
	}
	return nil
}

// vec is a vector or point, mm.
type vec = [3]float64

func add(a, b vec) vec           { return vec{a[0] + b[0], a[1] + b[1], a[2] + b[2]} }
func sub(a, b vec) vec           { return vec{a[0] - b[0], a[1] - b[1], a[2] - b[2]} }
func times(a vec, k float64) vec { return vec{a[0] * k, a[1] * k, a[2] * k} }
func dot(a, b vec) float64       { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
func length(a vec) float64       { return math.Sqrt(dot(a, a)) }
func wide(v [3]float32) vec      { return vec{float64(v[0]), float64(v[1]), float64(v[2])} }
func finite(v [3]float32) bool   { return v[0]-v[0] == 0 && v[1]-v[1] == 0 && v[2]-v[2] == 0 }
func cross(a, b vec) vec {
	return vec{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}

// unit is a at length 1; a vector without a direction stays zero.
func unit(a vec) vec {
	l := length(a)
	if !(l > 0) || math.IsInf(l, 0) {
		return vec{}
	}
	return times(a, 1/l)
}
