package measure

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"strings"

	"dropwright/bundle/facts"
	"dropwright/bundle/measure/cache"
	"dropwright/bundle/mesh"
	"dropwright/bundle/mesh/stl"
	"dropwright/bundle/mesh/threemf"
	"dropwright/bundle/trial"
)

// Topics says what to measure of a mesh. Hash, size, faults, volume and area are always measured.
type Topics struct {
	Holes    bool
	Walls    bool
	Estimate bool
}

// Options says how to measure.
type Options struct {
	Topics  Topics
	Workers int // files measured at once; 0: one for each processor
	// Print is how meshes measured for themselves are printed, Bed what they are to fit (0: not asked). A
	// design brings its own.
	Print Printing
	Bed   [3]float64
	// Factors is what was learnt from trials; with it estimates of the model are calibrated.
	Factors []trial.Factors
	Cache   *cache.Cache // nil: measure afresh
	// Progress is called when a file is done; nil: not.
	Progress func(done, total int, file string)
	// Stage is called when another piece of the work on a file begins, from several goroutines at once; nil: not.
	Stage func(file, stage string)
}

// The stages that Options.Stage names.
const (
	StageReading  = "reading"
	StageHoles    = "looking for holes"
	StageWalls    = "walls and overhangs"
	StageEstimate = "plastic and time"
)

func (o Options) stage(file, stage string) {
	if o.Stage != nil {
		o.Stage(file, stage)
	}
}

// Version is the version of what is measured; raise it when a figure is worked out another way.
const Version = 10

// MaxMesh is the largest mesh file that is read, in bytes: one more than any consumer printer's part needs
// by two orders of magnitude (common practice, no source).
const MaxMesh = 2 << 30

// Mesh measures one mesh file. A file that cannot be read as a mesh gives facts with Error and Hint.
func Mesh(fsys fs.FS, name string, opt Options) facts.Mesh {
	key := ""
	opt.stage(name, StageReading)
	if opt.Cache != nil && opt.Topics != (Topics{}) { // faults alone are found as fast as a file is hashed
		if hash, _, err := digest(fsys, name); err == nil {
			key = cache.Key("mesh", Version, hash, opt.Topics, opt.Print, opt.Bed, opt.Factors, toolpathHash(fsys, opt.Print.Toolpath))
			var kept facts.Mesh
			if opt.Cache.Get(key, &kept) {
				kept.File = name
				return kept
			}
		}
	}
	if opt.Topics == (Topics{}) {
		f, _ := readMesh(fsys, name)
		return f
	}
	f, solid := meshAndSolid(fsys, name, opt)
	bare(fsys, &f, solid, opt)
	if key != "" && f.Error == "" {
		opt.Cache.Put(key, f)
	}
	return f
}

// meshAndSolid also returns the mesh, in the order that it has whatever that of the file: figures would differ in
// their last digits otherwise.
func meshAndSolid(fsys fs.FS, name string, opt Options) (facts.Mesh, *mesh.Mesh) {
	opt.stage(name, StageReading)
	out, solid := readMesh(fsys, name)
	if solid != nil {
		solid = mesh.Ordered(solid)
	}
	deepen(&out, solid, opt)
	return out, solid
}

// readMesh reads a mesh and says what is found on the way.
func readMesh(fsys fs.FS, name string) (facts.Mesh, *mesh.Mesh) {
	out := facts.Mesh{File: name}
	o, err := open(fsys, name)
	if err != nil {
		out.Error, out.Hint = plain(err), "check the name, and that you may read it"
		return out, nil
	}
	defer o.close()
	var solid *mesh.Mesh
	if is3MF(name, o.data) {
		solid, err = of3MF(&out, o.data)
	} else {
		solid, err = ofSTL(&out, o.data)
	}
	if err == nil {
		err = o.unchanged()
	}
	if err != nil {
		text, hint := explain(err)
		return facts.Mesh{File: name, SHA256: out.SHA256, Error: text, Hint: hint}, nil
	}
	return out, solid
}

// is3MF goes by the first bytes of a zip; the name decides only when the file is cut to nothing.
func is3MF(name string, data []byte) bool {
	return bytes.HasPrefix(data, []byte("PK")) || strings.EqualFold(path.Ext(name), ".3mf")
}

func ofSTL(out *facts.Mesh, data []byte) (*mesh.Mesh, error) {
	res, err := stl.Survey(data)
	out.SHA256 = hex.EncodeToString(res.SHA256[:])
	if err != nil {
		return nil, err
	}
	out.Format = res.Info.Format
	report(out, res.Report)
	return res.Mesh, nil
}

// of3MF reads mapped bytes under Guard, as mesh/stl does itself: a file cut short meanwhile is then an error.
func of3MF(out *facts.Mesh, data []byte) (solid *mesh.Mesh, err error) {
	err = mesh.Guard(func() error {
		sum := sha256.Sum256(data)
		out.SHA256 = hex.EncodeToString(sum[:])
		m, err := threemf.Decode(bytes.NewReader(data), int64(len(data)))
		if err != nil {
			return err
		}
		out.Format, out.Unit = "3mf", m.Unit
		rep, welded := mesh.Inspect(m.Mesh())
		report(out, rep)
		solid = welded
		return nil
	})
	return solid, err
}

// explain splits a reader's error into what is wrong and what to do.
func explain(err error) (text, hint string) {
	var se *stl.Error
	if errors.As(err, &se) {
		where := ""
		switch {
		case se.Offset >= 0:
			where = fmt.Sprintf("byte %d: ", se.Offset)
		case se.Line > 0:
			where = fmt.Sprintf("line %d: ", se.Line)
		}
		return where + se.Text, se.Hint
	}
	return err.Error(), "export it again as binary STL or 3MF"
}

// report takes the figures of the mesh package over into facts.
func report(out *facts.Mesh, r mesh.Report) {
	size, lo, hi, area := r.Size, r.Min, r.Max, r.Area
	out.Triangles = r.Triangles
	out.Size, out.Min, out.Max, out.Area = &size, &lo, &hi, &area
	out.Volume, out.Centroid = r.Volume, r.Centroid
	shells, voids, watertight, inside := r.Shells, r.Voids, r.Watertight, r.InsideOut
	out.Shells, out.Voids, out.Watertight, out.InsideOut = &shells, &voids, &watertight, &inside
	e, deg, dup := r.EdgeCounts, r.Degenerate, r.Duplicate
	out.OpenEdges, out.NonmanifoldEdges, out.FlippedEdges = &e.Open, &e.Nonmanifold, &e.Flipped
	out.DegenerateTriangles, out.DuplicateTriangles = &deg, &dup
	if r.WeldedWithin != 0 {
		w := r.WeldedWithin
		out.WeldedWithin = &w
	}
	if r.UnitSuspect != "" {
		u := r.UnitSuspect
		out.UnitSuspect = &u
	}
	for _, f := range r.Faults {
		out.Faults = append(out.Faults, facts.Fault{Kind: f.Kind, Count: f.Count, At: f.At})
	}
}
