// Package estimate says how much plastic and time a part takes under its print settings: the mesh is
// cut into layers, each layer's exact outline is drawn into a bitmap, and the bitmap is divided into
// walls, solid skin, infill and support. Time comes from the same layers with the kinematics of
// package motion.
//
// It makes no tool path and is no substitute for one: a print file beside the part is simulated by
// package toolpath, and Measured turns its figures into an Estimate.
//
// The model. Layer k shows the section at its middle height. Lines fill exactly what the section
// holds (the stated line overlap is zero), so plastic never exceeds the sum of section area times
// layer height; walls thinner than the lines asked for are filled once. With A the section, d the
// width of all walls together and I the points of A at least d from its outline:
//
//	walls  = A - I, of which the outline is the outermost line
//	solid  = the points of I that lie outside any of the sections of the next solid-top layers above or
//	         the next solid-bottom layers below (outside the part counts as empty)
//	infill = the rest of I, times the infill density
//
// The areas A and outline are exact, I is counted in pixels: at the pixel sizes chosen here plastic
// is within 0.1 % of the formula for boxes, prisms, spheres and hollow shapes. What the formula itself
// is worth against a scale is another matter: see Band.
//
// Conventions: millimetres, mm2, mm3, grams, seconds; the part stands on its lowest point, z up.
// Results do not depend on the number of processors.
package estimate

import (
	"errors"
	"fmt"
	"math"

	"dropwright/bundle/mesh"
	"dropwright/bundle/section"
)

// What an estimate rests on.
const (
	Model      = "model"      // the layers of the mesh alone
	Calibrated = "calibrated" // the model times a factor from weighed and timed prints
	Toolpath   = "toolpath"   // a simulated print file
)

// Estimate is the plastic and time of one part.
type Estimate struct {
	Layers  int
	Plastic float64 // mm3: the sum of Kinds
	Kinds   Kinds
	Section float64 // mm3: sum of section area times layer height, what the part would hold if it were solid

	Grams, GramsLow, GramsHigh       float64
	Metres                           float64 // of filament
	Seconds, SecondsLow, SecondsHigh float64 // of printing; heating and changing over are the bed load's

	Basis string   // Model, Calibrated or Toolpath
	Band  string   // where low and high come from, one sentence
	Notes []string // what was odd about the mesh, in sentences; nil: nothing
}

// Kinds is plastic by what it is for, mm3.
type Kinds struct {
	Outline, Wall, Solid, Infill, Support, Brim float64
}

// Sum is the plastic of all kinds, mm3.
func (k Kinds) Sum() float64 {
	return k.Outline + k.Wall + k.Solid + k.Infill + k.Support + k.Brim
}

// Map returns the kinds under their names in JSON; kinds that do not occur are left out.
func (k Kinds) Map() map[string]float64 {
	m := map[string]float64{}
	for _, e := range []struct {
		name  string
		value float64
	}{
		{"outline", k.Outline}, {"wall", k.Wall}, {"solid", k.Solid},
		{"infill", k.Infill}, {"support", k.Support}, {"brim", k.Brim},
	} {
		if e.value > 0 {
			m[e.name] = e.value
		}
	}
	return m
}

// ErrNoSection is returned for a mesh that shows no closed outline at any layer.
var ErrNoSection = errors.New("no layer shows a closed outline, so there is nothing to print; repair the mesh first")

// mostLayers bounds the work: 4 m in layers of 0.2 mm.
const mostLayers = 20_000

// Part estimates the mesh as it stands, z up, its lowest point on the bed. It fails on settings out
// of range (which Settings.Check and Machine.Check find too), on a mesh of more than 20 000 layers, and
// with ErrNoSection. The mesh is not changed.
func Part(m *mesh.Mesh, s Settings, mc Machine) (Estimate, error) {
	return part(m, s, mc, 0)
}

// part is Part with a given number of workers, 0 for one a processor.
func part(m *mesh.Mesh, s Settings, mc Machine, workers int) (Estimate, error) {
	s, mc = s.filled(), mc.filled()
	if err := s.Check(); err != nil {
		return Estimate{}, err
	}
	if err := mc.Check(); err != nil {
		return Estimate{}, err
	}
	b, ok := bounds(m)
	if !ok {
		return Estimate{}, ErrNoSection
	}
	planes, err := layerPlanes(b.lo[2], b.hi[2], s)
	if err != nil {
		return Estimate{}, err
	}
	stack, err := section.NewStack(m, section.AlongZ, planes, workers)
	if err != nil {
		return Estimate{}, err
	}
	j := newJob(stack, b, s, mc, workers)
	defer j.release()
	j.run()
	if j.closed == 0 {
		return Estimate{}, ErrNoSection
	}
	if s.Supports {
		j.supports()
	}
	e := j.sum()
	e.weigh(s)
	return e, nil
}

// layerPlanes returns the middle heights of the layers: the first one may have a height of its own.
func layerPlanes(lo, hi float64, s Settings) ([]float64, error) {
	if (hi-lo)/s.Layer > mostLayers {
		return nil, fmt.Errorf("%.0f mm in layers of %g mm are more than %d layers; is the mesh in millimetres?", hi-lo, s.Layer, mostLayers)
	}
	planes := []float64{lo + s.FirstLayer/2}
	if hi-lo-s.FirstLayer > s.Layer/2+1e-6 {
		rest, err := section.LayerPlanes(lo+s.FirstLayer, hi, s.Layer)
		if err != nil {
			return nil, err
		}
		planes = append(planes, rest...)
	}
	if planes[0] >= hi {
		planes[0] = (lo + hi) / 2 // a part of less than half a layer is printed as one
	}
	return planes, nil
}

// extent is the box of a mesh and its extent along the turned axes of the raster, mm.
type extent struct {
	lo, hi   [3]float64
	ulo, uhi [2]float64
}

// bounds looks at every vertex that is finite.
func bounds(m *mesh.Mesh) (extent, bool) {
	b := extent{
		lo: [3]float64{math.Inf(1), math.Inf(1), math.Inf(1)}, hi: [3]float64{math.Inf(-1), math.Inf(-1), math.Inf(-1)},
		ulo: [2]float64{math.Inf(1), math.Inf(1)}, uhi: [2]float64{math.Inf(-1), math.Inf(-1)},
	}
	widen := func(lo, hi *float64, v float64) {
		if v < *lo {
			*lo = v
		}
		if v > *hi {
			*hi = v
		}
	}
	for _, p := range m.Vertices {
		x, y, z := float64(p[0]), float64(p[1]), float64(p[2])
		if d := x + y + z; math.IsNaN(d) || math.IsInf(d, 0) {
			continue
		}
		widen(&b.lo[0], &b.hi[0], x)
		widen(&b.lo[1], &b.hi[1], y)
		widen(&b.lo[2], &b.hi[2], z)
		u, v := turned(x, y)
		widen(&b.ulo[0], &b.uhi[0], u)
		widen(&b.ulo[1], &b.uhi[1], v)
	}
	return b, b.lo[0] <= b.hi[0]
}

// weigh fills in mass and length, and the band around mass and time.
func (e *Estimate) weigh(s Settings) {
	density, _ := s.density()
	e.Grams = e.Plastic / 1000 * density
	e.Metres = e.Plastic / s.filamentArea() / 1000
	e.spread(s)
}

// Measured is the estimate of a part whose print file was simulated: so many millimetres of filament,
// seconds and layers. Mass and length are exact for the filament's diameter and density; the model's
// kinds do not apply.
func Measured(filament, seconds float64, layers int, s Settings) Estimate {
	s = s.filled()
	e := Estimate{Layers: layers, Basis: Toolpath, Seconds: seconds, Plastic: filament * s.filamentArea()}
	e.weigh(s)
	return e
}
