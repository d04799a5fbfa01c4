package facts

// Design is what was measured of one design's folder. Every slice is sorted by its first field, so that the
// value prints the same whatever order things were measured in.
type Design struct {
	Content string `json:"content"` // digest of the manifest and every file it names: equal content, equal digest
	Files   []File `json:"files"`   // what the manifest names, and what lies in the folder
	Texts   []Text `json:"texts"`   // the Markdown files named, and tables among the extras
	// Unportable are names that a bundle would hold and that some system could not store; nil: not looked at.
	Unportable []PackName `json:"unportable,omitempty"`
	Measured
}

// Measured is the part of the facts that takes time to work out and follows from the content alone.
type Measured struct {
	Meshes []Mesh  `json:"meshes"` // one per mesh file named
	Parts  []Part  `json:"parts"`  // one per printed part and variant
	Photos []Photo `json:"photos"` // one per picture file named
	// Printers of the series, in its order; those that take a part are named in its FitsOn.
	Printers []Printer `json:"printers,omitempty"`
	Fit      *Fit      `json:"fit,omitempty"` // nil for a design of one part without fasteners
	Scan     Scan      `json:"scan"`
	Boards   *Boards   `json:"boards,omitempty"` // nil for a design without boards, fans and wires
}

// File is one file of the design's folder, or one that the manifest names and that is not there.
type File struct {
	Path    string `json:"path"`
	Named   bool   `json:"named"` // the manifest names it
	Bytes   int64  `json:"bytes,omitempty"`
	SHA256  string `json:"sha256,omitempty"`
	Problem string `json:"problem,omitempty"` // "missing", "link", "folder", "unreadable", "case": with detail after a colon
}

// Part is one printed part of one variant with its mesh as it stands on the bed.
type Part struct {
	Part     string      `json:"part"`
	Variant  string      `json:"variant"`
	Mesh     string      `json:"mesh"`
	Stands   *[3]float64 `json:"stands_mm,omitempty"` // size as it stands, mm; nil when the mesh could not be read
	FitsOn   []string    `json:"fits_on,omitempty"`   // printers of the series whose bed takes it
	TurnedBy *float64    `json:"turned_by,omitempty"` // degrees about z at which it fits, when it must be turned
	Estimate *Estimate   `json:"estimate,omitempty"`  // of one copy, on the first printer that takes it
	// Unestimated says why there is no estimate though one was asked for.
	Unestimated string    `json:"unestimated,omitempty"`
	Toolpath    *Toolpath `json:"toolpath,omitempty"` // the print file beside it; nil: none, or it is not there
	// Outline is the convex hull of the part as it stands, seen from above, corners counter-clockwise, mm;
	// nil when no estimate was asked for.
	Outline [][2]float64 `json:"outline_mm,omitempty"`
	// HoleAllowance is by how much holes come out narrower than drawn on the printer and in the material of
	// this part, mm on the diameter, learnt from measured holes; nil when too few were logged.
	HoleAllowance *float64 `json:"hole_allowance_mm,omitempty"`
}

// Photo is one picture file.
type Photo struct {
	File    string `json:"file"`
	Format  string `json:"format,omitempty"` // "jpeg", "png"
	Width   int    `json:"width,omitempty"`  // pixels, as it is looked at (orientation applied)
	Height  int    `json:"height,omitempty"`
	Problem string `json:"problem,omitempty"` // why it cannot be used
	Hint    string `json:"hint,omitempty"`    // what to do about it
}

// Text is one text that people read: a Markdown file, or a table among the extras.
type Text struct {
	File string `json:"file"`
	Body string `json:"body"`
}

// Mesh returns the facts of a mesh file.
func (d *Design) Mesh(file string) (*Mesh, bool) {
	for i := range d.Meshes {
		if d.Meshes[i].File == file {
			return &d.Meshes[i], true
		}
	}
	return nil, false
}

// Part returns the facts of a part in a variant.
func (d *Design) Part(part, variant string) (*Part, bool) {
	for i := range d.Parts {
		if d.Parts[i].Part == part && d.Parts[i].Variant == variant {
			return &d.Parts[i], true
		}
	}
	return nil, false
}

// Photo returns the facts of a picture file.
func (d *Design) Photo(file string) (*Photo, bool) {
	for i := range d.Photos {
		if d.Photos[i].File == file {
			return &d.Photos[i], true
		}
	}
	return nil, false
}

// Text returns the body of a Markdown file.
func (d *Design) Text(file string) (string, bool) {
	for _, t := range d.Texts {
		if t.File == file {
			return t.Body, true
		}
	}
	return "", false
}

// File returns a file of the folder.
func (d *Design) File(path string) (*File, bool) {
	for i := range d.Files {
		if d.Files[i].Path == path {
			return &d.Files[i], true
		}
	}
	return nil, false
}
