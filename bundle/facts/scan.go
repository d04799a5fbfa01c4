package facts

// Scan is what was looked for in a design's files beyond the measures of each: how parts stand, thin walls,
// bodies in one file, meshes that are one shape, what 3MF files say of themselves, what files give away.
// Lengths are millimetres, areas mm2, volumes mm3.
type Scan struct {
	Solids   []Solid   `json:"solids,omitempty"`   // one for each mesh file that could be read, by file
	Alike    []Alike   `json:"alike,omitempty"`    // pairs of mesh files of one shape, by file
	Packages []Package `json:"packages,omitempty"` // one for each 3MF file, by file
	Leaks    []Leak    `json:"leaks,omitempty"`    // by file, then in the order of the file
	Pointers []string  `json:"pointers,omitempty"` // files that only point to where large-file storage keeps them
}

// Solid is more of one mesh.
type Solid struct {
	File   string     `json:"file"`
	Faces  [6]Stand   `json:"faces"`              // standing on -z, +z, -y, +y, -x, +x
	Best   string     `json:"best"`               // the face with less overhang and more contact
	Limit  float64    `json:"limit"`              // overhang from the vertical in degrees that needs no support
	Stood  []Stood    `json:"stood,omitempty"`    // for each face that a part made of it stands on
	Thin   []float64  `json:"thin_mm2,omitempty"` // [i]: surface over material thinner than (i+1)/10 mm; nil for an open mesh
	ThinAt [3]float64 `json:"thin_at_mm"`         // middle of the thinnest
	Bodies []Body     `json:"bodies,omitempty"`   // the shells, largest first; nil for one
	// UnitBySize is "inch", "centimetre" or "metre" where that unit explains the size that the part should have.
	UnitBySize string `json:"unit_by_size,omitempty"`
	// UnitByHoles is "inch" or "centimetre" where all round holes are too small for screws.
	UnitByHoles string `json:"unit_by_holes,omitempty"`
}

// Stand is how a mesh prints when it stands on one of its faces.
type Stand struct {
	Face     string  `json:"face"`
	Contact  float64 `json:"contact_mm2"`
	Overhang float64 `json:"overhang_mm2"`
	Height   float64 `json:"height_mm"`
}

// Stood is a mesh on the face that a part of the design stands on.
type Stood struct {
	Face   string  `json:"face"`
	Common bool    `json:"common"` // fits a bed of 180 x 180 x 180 mm, turned about the vertical if need be
	Ledges []Ledge `json:"ledges,omitempty"`
	OffBed float64 `json:"off_bed_mm,omitempty"` // how far above (or, negative, below) z = 0 the file puts it
}

// Ledge is flat underside a little above the bed.
type Ledge struct {
	Height float64    `json:"height_mm"`
	Area   float64    `json:"area_mm2"`
	At     [3]float64 `json:"at_mm"` // in the frame of the mesh
}

// Body is one shell of a mesh.
type Body struct {
	Triangles int        `json:"triangles"`
	Min       [3]float64 `json:"min_mm"`
	Max       [3]float64 `json:"max_mm"`
	Volume    float64    `json:"volume_mm3"` // signed; 0 where it is not closed
	Closed    bool       `json:"closed"`
	Depth     int        `json:"depth,omitempty"`      // how many other bodies it lies in
	Void      bool       `json:"void,omitempty"`       // it bounds a cavity
	WrongSign bool       `json:"wrong_sign,omitempty"` // it faces the way that its depth does not allow
	Overlaps  bool       `json:"overlaps,omitempty"`   // it lies partly in another
	Group     int        `json:"group"`                // bodies that reach into each other or touch have one number
}

// Alike is two mesh files of one shape.
type Alike struct {
	A         string `json:"a"`
	B         string `json:"b"`
	Kind      string `json:"kind"`      // "same", "moved", "turned", "mirrored"
	Symmetric bool   `json:"symmetric"` // the shape is its own mirror image
}

// Package is what a 3MF file says of itself in the fields of the core and materials specifications.
type Package struct {
	File      string   `json:"file"`
	Materials []string `json:"materials,omitempty"` // names of base materials
	Licence   string   `json:"licence,omitempty"`   // LicenseTerms
	Designer  string   `json:"designer,omitempty"`
	Copyright string   `json:"copyright,omitempty"`
	Items     int      `json:"items"` // things on the build plate
}

// Leak is one thing that a file gives away about who made it.
type Leak struct {
	File string `json:"file"`
	Kind string `json:"kind"` // "position", "name", "serial", "path", "email", "address"
	What string `json:"what"` // "position in EXIF"
	Text string `json:"text,omitempty"`
}

// Solid returns more of a mesh file.
func (d *Design) Solid(file string) (*Solid, bool) {
	for i := range d.Scan.Solids {
		if d.Scan.Solids[i].File == file {
			return &d.Scan.Solids[i], true
		}
	}
	return nil, false
}

// On returns how the mesh prints on a face; "" is -z.
func (s *Solid) On(face string) Stand {
	for _, f := range s.Faces {
		if f.Face == face {
			return f
		}
	}
	return s.Faces[0]
}

// StoodOn returns the mesh on the face that a part stands on; "" is -z.
func (s *Solid) StoodOn(face string) (Stood, bool) {
	if face == "" {
		face = "-z"
	}
	for _, x := range s.Stood {
		if x.Face == face {
			return x, true
		}
	}
	return Stood{}, false
}
