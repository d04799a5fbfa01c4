package measure

import (
	"cmp"
	"io/fs"

	"dropwright/bundle/estimate"
	"dropwright/bundle/facts"
	"dropwright/bundle/mesh"
	"dropwright/bundle/section"
)

// deepen measures the topics beyond the faults.
func deepen(out *facts.Mesh, m *mesh.Mesh, opt Options) {
	if m == nil || len(m.Triangles) == 0 {
		return
	}
	if opt.Topics.Holes {
		opt.stage(out.File, StageHoles)
		if c, err := section.Holes(m, section.Options{}); err == nil {
			census(out, c)
			suspectByHoles(out)
		}
	}
	if opt.Topics.Walls {
		opt.stage(out.File, StageWalls)
		limit := opt.Print.Settings.SupportAngle
		if limit == 0 {
			limit = defaultLimit
		}
		now := mesh.Stand(m, "-z", limit)
		out.BedContact, out.Overhang = &now.Contact, &now.Overhang
		out.Islands = islands(m, opt.Print.Settings)
		out.StandOn = string(mesh.BestFace(mesh.StandOn(m, limit)).Face)
		if w := mesh.MeasureWalls(m); w.Thinnest > 0 {
			out.ThinnestWall = &w.Thinnest
		}
		if opt.Bed != [3]float64{} {
			fits := mesh.FitsBed(m, opt.Bed).Fits
			out.FitsBed = &fits
		}
	}
}

// mostIslands is how many patches of the first layer are told; a texture on the bottom has thousands. Our own limit.
const mostIslands = 100

// islands are the patches of the first layer of a mesh that stands as it is; none where they cannot be told.
func islands(m *mesh.Mesh, s estimate.Settings) []facts.Island {
	layer := cmp.Or(s.FirstLayer, s.Layer, estimate.Defaults().Layer)
	list, err := section.Islands(m, layer)
	if err != nil {
		return nil
	}
	var out []facts.Island
	for _, i := range list[:min(len(list), mostIslands)] {
		out = append(out, facts.Island{Area: i.Area, Length: i.Length, Min: i.Min, Max: i.Max})
	}
	return out
}

// suspectByHoles doubts the unit of a mesh whose round holes, two or more, are all too small for any screw, where
// its size alone does not. Only a part that in another unit would still fit a printer: 300 mm, beyond which
// few reach (common practice, no source), are 30 in centimetres.
func suspectByHoles(out *facts.Mesh) {
	const longest = 30
	if out.UnitSuspect != nil || out.Size == nil || max(out.Size[0], out.Size[1], out.Size[2]) > longest {
		return
	}
	var round []float64
	for i := range out.Holes {
		if h := &out.Holes[i]; h.Kind == section.Round {
			round = append(round, h.Diameter)
		}
	}
	if len(round) < 2 {
		return
	}
	if u := mesh.SuspectUnitByHoles(round); u != "" {
		out.UnitSuspect = &u
	}
}

// bare estimates a mesh for itself, printed as the options say.
func bare(fsys fs.FS, out *facts.Mesh, m *mesh.Mesh, opt Options) {
	if !opt.Topics.Estimate || m == nil || len(m.Triangles) == 0 || out.Size == nil {
		return
	}
	opt.stage(out.File, StageEstimate)
	stood := standing(m, opt.Print.Stand)
	printer, mc := opt.Print.printer(stood)
	w := work(fsys, *out, stood, opt.Print, printer, mc, opt.Factors)
	out.Estimate, out.Unestimated = w.estimate, w.why
}

// defaultLimit is the overhang from the vertical, in degrees, that prints without support: the 45 degrees of
// common practice, no source.
const defaultLimit = 45

// axisOf writes a main direction as its letter and any other as a vector.
func axisOf(a [3]float64) any {
	for i, name := range []string{"x", "y", "z"} {
		if a[i] == 1 {
			return name
		}
	}
	return a
}

func census(out *facts.Mesh, c section.Census) {
	out.Holes, out.Bosses, out.Openings = []facts.Hole{}, []facts.Boss{}, []facts.Opening{}
	for i := range c.Holes {
		h := &c.Holes[i]
		f := facts.Hole{Axis: axisOf(h.Axis), Kind: h.Kind, Diameter: h.Diameter, Passes: h.Passes, Centre: h.Centre, Depth: h.Depth, Through: h.Through}
		if s, ok := h.Sink(); ok {
			f.Sink = &facts.Sink{Kind: s.Kind, Diameter: s.Diameter, Depth: s.Depth}
		}
		out.Holes = append(out.Holes, f)
	}
	for _, b := range c.Bosses {
		out.Bosses = append(out.Bosses, facts.Boss{Axis: axisOf(b.Axis), Diameter: b.Diameter, Centre: b.Centre, Height: b.Height})
	}
	for _, o := range c.Openings {
		out.Openings = append(out.Openings, facts.Opening{Axis: axisOf(o.Axis), Size: o.Size, Centre: o.Centre, Depth: o.Depth})
	}
}
