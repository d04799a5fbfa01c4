package facts

// Mesh is what was measured of one mesh file: the object that `measure --format json` prints.
// Lengths are millimetres, areas mm2, volumes mm3. A pointer is nil where the value is not known
// (an open mesh has no volume); a slice is nil where the topic was not measured.
type Mesh struct {
	File   string `json:"file"`
	SHA256 string `json:"sha256,omitempty"`
	Error  string `json:"error,omitempty"`
	Hint   string `json:"hint,omitempty"` // what to do about the error

	Format    string      `json:"format,omitempty"` // "stl-binary", "stl-ascii", "3mf"
	Unit      string      `json:"unit,omitempty"`   // unit written in the file, "" for STL, which has none
	Triangles int         `json:"triangles,omitempty"`
	Size      *[3]float64 `json:"size_mm,omitempty"`
	Min       *[3]float64 `json:"min_mm,omitempty"`
	Max       *[3]float64 `json:"max_mm,omitempty"`
	Volume    *float64    `json:"volume_mm3,omitempty"`
	Area      *float64    `json:"area_mm2,omitempty"`
	Centroid  *[3]float64 `json:"centroid_mm,omitempty"`

	Shells              *int     `json:"shells,omitempty"`
	Voids               *int     `json:"voids,omitempty"`
	Watertight          *bool    `json:"watertight,omitempty"`
	InsideOut           *bool    `json:"inside_out,omitempty"`
	OpenEdges           *int     `json:"open_edges,omitempty"`
	NonmanifoldEdges    *int     `json:"nonmanifold_edges,omitempty"` // shared by more than two faces
	FlippedEdges        *int     `json:"flipped_edges,omitempty"`     // its two faces disagree on direction
	DegenerateTriangles *int     `json:"degenerate_triangles,omitempty"`
	DuplicateTriangles  *int     `json:"duplicate_triangles,omitempty"`
	WeldedWithin        *float64 `json:"welded_within_mm,omitempty"` // nil: exact weld was enough
	UnitSuspect         *string  `json:"unit_suspect"`               // null, "inch", "centimetre", "metre"
	Faults              []Fault  `json:"faults,omitempty"`

	Holes    []Hole    `json:"holes,omitempty"`
	Bosses   []Boss    `json:"bosses,omitempty"`
	Openings []Opening `json:"openings,omitempty"`

	BedContact   *float64  `json:"bed_contact_mm2,omitempty"`
	Islands      []Island  `json:"islands,omitempty"` // patches of the first layer, largest first
	Overhang     *float64  `json:"overhang_mm2,omitempty"`
	ThinnestWall *float64  `json:"thinnest_wall_mm,omitempty"`
	StandOn      string    `json:"stand_on,omitempty"`
	FitsBed      *bool     `json:"fits_bed,omitempty"`
	Estimate     *Estimate `json:"estimate,omitempty"`
	Unestimated  string    `json:"unestimated,omitempty"` // why there is no estimate though one was asked for
}

// Island is a patch of the first layer that hangs together with no other in that layer.
type Island struct {
	Area   float64    `json:"area_mm2"`
	Length float64    `json:"length_mm"` // of all its outlines
	Min    [2]float64 `json:"min_mm"`    // x and y
	Max    [2]float64 `json:"max_mm"`
}

// Fault is one kind of defect with how often it occurs and the first places.
type Fault struct {
	Kind  string       `json:"kind"` // "open-edge", "nonmanifold-edge", …
	Count int          `json:"count"`
	At    [][3]float64 `json:"at,omitempty"` // up to ten places, mm
}

// Hole is one hole found in a mesh. Diameter is what was drawn (through the corners of the facets;
// across flats for a hexagon); Passes is the largest cylinder that goes through.
type Hole struct {
	Axis     any        `json:"axis"` // "x", "y", "z", or [3]float64
	Kind     string     `json:"kind"` // "round" or "hexagon"
	Diameter float64    `json:"diameter_mm"`
	Passes   float64    `json:"passes_mm"`
	Centre   [3]float64 `json:"centre_mm"` // middle of the hole's axis
	Depth    float64    `json:"depth_mm"`
	Through  bool       `json:"through"`
	Sink     *Sink      `json:"sink"`
}

// Sink is the wider mouth of a hole that takes a screw's head.
type Sink struct {
	Kind     string  `json:"kind"` // "counterbore" or "countersink"
	Diameter float64 `json:"diameter_mm"`
	Depth    float64 `json:"depth_mm"`
}

// Boss is a round post: outer diameter and height.
type Boss struct {
	Axis     any        `json:"axis"`
	Diameter float64    `json:"diameter_mm"`
	Centre   [3]float64 `json:"centre_mm"`
	Height   float64    `json:"height_mm"`
}

// Opening is a hole that is neither round nor a hexagon: a slot, a window.
type Opening struct {
	Axis   any        `json:"axis"`
	Size   [2]float64 `json:"size_mm"`
	Centre [3]float64 `json:"centre_mm"`
	Depth  float64    `json:"depth_mm"`
}

// Estimate is the plastic and time of one part under its print settings.
type Estimate struct {
	Grams       float64            `json:"grams"`
	GramsLow    float64            `json:"grams_low"`
	GramsHigh   float64            `json:"grams_high"`
	Metres      float64            `json:"metres"`
	Seconds     float64            `json:"seconds"`
	SecondsLow  float64            `json:"seconds_low"`
	SecondsHigh float64            `json:"seconds_high"`
	Layers      int                `json:"layers"`
	Plastic     float64            `json:"plastic_mm3"`
	Kinds       map[string]float64 `json:"kinds"`
	Basis       string             `json:"basis"`           // "model", "calibrated", "toolpath"
	Band        string             `json:"band,omitempty"`  // where low and high come from, one sentence
	Notes       []string           `json:"notes,omitempty"` // what was odd about the mesh, in sentences
	Settings    map[string]any     `json:"settings"`
}
