package measure

import (
	"errors"
	"fmt"
	"io/fs"
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/estimate"
	"dropwright/bundle/facts"
	"dropwright/bundle/mesh"
	"dropwright/bundle/toolpath"
	"dropwright/bundle/trial"
)

// Printing is how a mesh is printed: what its estimate depends on beside the mesh. The zero Stand leaves the
// mesh as it is drawn; without printers the machine is Machine.
type Printing struct {
	Settings estimate.Settings
	Stand    design.Face
	Printers []design.Printer // the first whose bed takes the part prints it
	Machine  estimate.Machine // when there are no printers, or none takes it
	Toolpath string           // print file beside the part, "": none
}

// PrintingOf is how a part of a design is printed: its settings over the series', in the first filament of
// its colour role.
func PrintingOf(p design.Part, d *design.Design, house *design.House) Printing {
	pal, _ := d.Colours.Get(string(p.Colour.V))
	fil, _ := house.Filament(string(pal.First().V))
	return Printing{Settings: SettingsFor(printOf(p, house), fil), Stand: p.StandOn.V, Printers: house.Printers,
		Machine: estimate.DefaultMachine(), Toolpath: string(p.Toolpath.V)}
}

// printOf is a part's print settings over the series'.
func printOf(p design.Part, house *design.House) design.Print {
	s := p.Print.Over(house.Print)
	if p.Supports.Set() {
		s.Supports = p.Supports
	}
	return s
}

// bedOf is a printer's bed; false when the manifest gives none that can be used.
func bedOf(p design.Printer) ([3]float64, bool) {
	if len(p.Bed) != 3 {
		return [3]float64{}, false
	}
	return [3]float64{float64(p.Bed[0].V), float64(p.Bed[1].V), float64(p.Bed[2].V)}, true
}

// printer returns the first printer whose bed takes the mesh as it stands.
func (p Printing) printer(stood *mesh.Mesh) (name string, mc estimate.Machine) {
	for _, pr := range p.Printers {
		if bed, ok := bedOf(pr); ok && mesh.FitsBed(stood, bed).Fits {
			return string(pr.Name.V), MachineFor(pr)
		}
	}
	return "", p.Machine
}

// worked is what was found out about the printing of one mesh.
type worked struct {
	estimate *facts.Estimate
	why      string // why there is none
	toolpath *facts.Toolpath
}

// work estimates a mesh that was stood up: by its print file where there is one that prints it, else by the
// model, times what was learnt from trials on that printer in that material. f is what was measured of the
// mesh as it is drawn.
func work(fsys fs.FS, f facts.Mesh, stood *mesh.Mesh, p Printing, printer string, mc estimate.Machine, factors []trial.Factors) worked {
	var out worked
	model, err := estimate.Part(stood, p.Settings, mc)
	if err == nil {
		err = closed(f)
	}
	if err != nil {
		out.why = err.Error()
	}
	if p.Toolpath != "" {
		var measured *estimate.Estimate
		shape := toolpath.Shape{Size: standingSize(*f.Size, p.Stand), Layers: model.Layers, Line: p.Settings.Line, Outline: estimate.Outline(stood)}
		out.toolpath, measured = simulate(fsys, p.Toolpath, shape, p.Settings, mc)
		if measured != nil {
			out.why, out.estimate = "", take(*measured, p.Settings, nil)
			return out
		}
	}
	if err != nil {
		return out
	}
	notes := model.Notes
	if f.Volume != nil {
		if n := model.Against(*f.Volume); n != "" {
			notes = append(notes, n)
		}
	}
	if f, ok := trial.Find(factors, printer, p.Settings.Material); ok && printer != "" {
		model, _ = f.Apply(model)
	}
	out.estimate = take(model, p.Settings, notes)
	return out
}

// closed is an error for a mesh with open edges: what a slicer makes of it nobody can say, so a firm figure
// would be made up.
func closed(f facts.Mesh) error {
	if f.OpenEdges != nil && *f.OpenEdges > 0 {
		return fmt.Errorf("the surface is not closed: %d open edges", *f.OpenEdges)
	}
	return nil
}

// MaxToolpath is the largest print file that is simulated, in bytes: ten times what a day's print of fine
// layers takes. Common practice, no source.
const MaxToolpath = 1 << 30

// simulate reads a print file; the estimate is nil when it cannot be simulated or prints something else. The
// file that is not there is nobody's fact here: nil, nil.
func simulate(fsys fs.FS, name string, shape toolpath.Shape, s estimate.Settings, mc estimate.Machine) (*facts.Toolpath, *estimate.Estimate) {
	if _, problem := look(fsys, name); problem != "" {
		return nil, nil // said among the files
	}
	out := &facts.Toolpath{File: name}
	r, err := readToolpath(fsys, name, mc)
	if err != nil {
		out.Problem = plain(err)
		return out, nil
	}
	out.CutOff = r.CutOff
	all := r.Misfits(shape)
	shape.Layers = 0 // not judged: what is left is the size
	switch {
	case len(r.Misfits(shape)) > 0:
		out.Misfits = all
		return out, nil
	case len(all) > 0:
		out.OtherLayers = strings.Join(all, "; ")
	}
	e := estimate.Measured(r.Filament, r.Seconds, r.Layers, s)
	return out, &e
}

func readToolpath(fsys fs.FS, name string, mc estimate.Machine) (toolpath.Result, error) {
	f, err := fsys.Open(name)
	if err != nil {
		return toolpath.Result{}, err
	}
	defer f.Close()
	st, err := f.Stat()
	if err != nil {
		return toolpath.Result{}, err
	}
	if st.Size() > MaxToolpath {
		return toolpath.Result{}, fmt.Errorf("it holds %d bytes, the limit is %d", st.Size(), int64(MaxToolpath))
	}
	return toolpath.Read(f, toolpath.Machine{Limits: mc.Limits, Travel: mc.Travel})
}

// toolpathHash stands for a print file in the key of what is measured with it.
func toolpathHash(fsys fs.FS, name string) string {
	if name == "" {
		return ""
	}
	h, err := Hash(fsys, name)
	if err != nil {
		return plain(err)
	}
	return h
}

// ErrNoPart is returned by Model for a part that has no mesh in the variant.
var ErrNoPart = errors.New("the part has no mesh in this variant")

// Figure is what the model, without calibration or print file, says of one part on one printer in one
// filament, and which mesh it is: what a trial is logged with.
type Figure struct {
	Mesh     string // SHA-256; "" for a mesh that cannot be read
	Settings estimate.Settings
	Machine  estimate.Machine
	Estimate estimate.Estimate
}

// Model works out the figure of a part. The filament of the zero value stands for the part's own. A mesh
// that cannot be read or estimated is an error that says why; in the second case the figure names the mesh.
func Model(fsys fs.FS, d *design.Design, house *design.House, part, variant string, pr design.Printer, fil design.Filament) (Figure, error) {
	p, ok := d.Part(part)
	m, has := p.Mesh.For(variant)
	if !ok || !has {
		return Figure{}, ErrNoPart
	}
	how := PrintingOf(p, d, house)
	if fil.Name.Set() {
		how.Settings = SettingsFor(printOf(p, house), fil)
	}
	out := Figure{Settings: how.Settings, Machine: MachineFor(pr)}
	f, solid := meshAndSolid(fsys, string(m.V), Options{})
	if f.Error != "" || solid == nil {
		return out, fmt.Errorf("%s: %s", m.V, f.Error)
	}
	out.Mesh = f.SHA256
	e, err := estimate.Part(standing(solid, how.Stand), how.Settings, out.Machine)
	if err == nil {
		err = closed(f)
	}
	if err != nil {
		return out, fmt.Errorf("%s: %w", m.V, err)
	}
	out.Estimate = e
	return out, nil
}

// Hash is the SHA-256 of a file of the design's folder.
func Hash(fsys fs.FS, name string) (string, error) {
	h, _, err := digest(fsys, name)
	return h, err
}
