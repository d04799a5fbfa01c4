package facts

// Fit is what was worked out of a design's joints: which holes each fastener goes through and into, and
// which lengths of screw would do. Lengths are millimetres.
type Fit struct {
	Joints []Joint `json:"joints"` // in the order of the manifest, then of the variants
	// Patterns of holes that two parts share and no fastener uses.
	Unlisted []Unlisted `json:"unlisted,omitempty"`
	// How parts whose places are known sit in one another.
	Plays        []Play `json:"plays,omitempty"`
	PlaysUnknown string `json:"plays_unknown,omitempty"` // why that was not measured
}

// Play is how far one part can move along an axis of the assembly before another one stops it, on both sides; or,
// with Overlap, that the two take up the same space.
type Play struct {
	Variant string     `json:"variant"`
	A       string     `json:"a"`
	B       string     `json:"b"`
	Axis    string     `json:"axis"` // "x", "y", "z"
	Total   float64    `json:"total_mm"`
	Sides   int        `json:"sides"` // 2, where it is stopped on both
	At      [3]float64 `json:"at_mm"` // where, in the frame of the assembly
	Overlap float64    `json:"overlap_mm3,omitempty"`
	Deep    float64    `json:"deep_mm,omitempty"` // of the overlap, on average
}

// Joint is one fastener entry in one variant.
type Joint struct {
	Fastener string  `json:"fastener"`
	Variant  string  `json:"variant"`
	Thing    string  `json:"thing"`    // designation: "ISO 4762 - M3 x 8"
	Standard string  `json:"standard"` // "" for a standoff
	Size     string  `json:"size"`     // "M3"
	Length   float64 `json:"length_mm"`
	Count    int     `json:"count"`

	Members []Member `json:"members"` // head first; the last is what holds the thread
	Into    string   `json:"into"`    // "plastic", "insert", "nut", "thread" (of a bought part), "standoff"
	Screws  []Screw  `json:"screws"`  // one for each screw whose length could be judged
	Fits    *Lengths `json:"fits,omitempty"`
	// What could not be worked out, each with what to write so that it can.
	Unknown []Unknown `json:"unknown,omitempty"`
}

// Unknown is something that could not be worked out of a joint.
type Unknown struct {
	Topic string `json:"topic"` // "fastener", "length", "holes"
	Text  string `json:"text"`
}

// Lengths is the interval of screw lengths that would do for a joint, both ends included, and those of the
// series of lengths that are made.
type Lengths struct {
	Min  float64   `json:"min_mm"`
	Max  float64   `json:"max_mm"`
	Open bool      `json:"open"` // nothing stops a longer screw; Max is how far one would let it stand out
	Made []float64 `json:"made_mm"`
}

// Screw is one screw in its joint: how much it clamps and how much of it bites.
type Screw struct {
	Clamped float64 `json:"clamped_mm"` // between the seat of the head and the face it goes into, recesses taken off
	Bites   float64 `json:"bites_mm"`   // thread that holds
	Needs   float64 `json:"needs_mm"`   // least that must hold
	Reach   float64 `json:"reach_mm"`   // from the face it goes into to its tip
	Room    float64 `json:"room_mm"`    // from that face to where the tip meets something; 0 when nothing does
}

// Band is the range of a figure that will do.
type Band struct {
	Min    float64 `json:"min_mm"`
	Max    float64 `json:"max_mm"`
	Usual  float64 `json:"usual_mm"`
	Basis  string  `json:"basis"`
	Caveat string  `json:"caveat,omitempty"` // "common practice, no standard", … where the figure is weak
}

// Member is one thing that a fastener passes or goes into.
type Member struct {
	Name   string `json:"name"` // of the part, bought part, board, standoff; "washer", "nut", "insert"
	Kind   string `json:"kind"` // "part", "bought", "board", "washer", "nut", "standoff"
	File   string `json:"file,omitempty"`
	Role   string `json:"role,omitempty"` // "clearance", "thread", "insert", "nut": what its holes must be
	Index  int    `json:"index"`          // in `through`; -1 for what it goes into
	Copies int    `json:"copies,omitempty"`

	Thickness  *float64  `json:"thickness_mm,omitempty"`  // what is clamped of it, where it is the same for all screws
	Allowed    *Band     `json:"allowed,omitempty"`       // of the hole's drawn diameter, or across the flats of a pocket
	Clears     *Band     `json:"clears,omitempty"`        // of the round hole that leads to a nut pocket
	NeedDepth  float64   `json:"need_depth_mm,omitempty"` // insert hole, nut pocket
	NeedWall   float64   `json:"need_wall_mm,omitempty"`  // least material around an insert's hole
	NeedBoss   float64   `json:"need_boss_mm,omitempty"`  // least width of the post that a thread is cut into
	Allowance  float64   `json:"allowance_mm,omitempty"`  // how much smaller than drawn its holes print
	WallCaveat string    `json:"wall_caveat,omitempty"`
	Holes      []FitHole `json:"holes,omitempty"`     // one for each screw, in the same order in all members
	Found      int       `json:"found"`               // holes of the right kind that no other joint takes, over all copies
	Spread     float64   `json:"spread_mm,omitempty"` // largest less smallest diameter
	Matched    bool      `json:"matched"`             // its holes were found by their pattern, not just counted
	Unlike     *Unlike   `json:"unlike,omitempty"`
}

// Unlike says that the holes of a member lie in another pattern than those of the one it is joined to.
type Unlike struct {
	Name  string  `json:"name"`     // of the other
	Span  float64 `json:"span_mm"`  // between the two holes farthest apart
	Other float64 `json:"other_mm"` // the same of the other
}

// FitHole is the hole that one screw uses in one member.
type FitHole struct {
	Missing  bool       `json:"missing,omitempty"`
	At       [3]float64 `json:"at_mm"`            // its opening, in the frame of the mesh; where it should be, when missing
	Placed   bool       `json:"placed,omitempty"` // At is known
	Out      [3]float64 `json:"out"`              // unit vector out of the part at the opening
	Diameter float64    `json:"diameter_mm"`
	Passes   float64    `json:"passes_mm"`
	Corners  int        `json:"corners,omitempty"`
	Depth    float64    `json:"depth_mm"`
	Through  bool       `json:"through"`
	Sink     *Sink      `json:"sink,omitempty"`
	Wall     float64    `json:"wall_mm,omitempty"` // least material around it; 0 when not measured
	Low      float64    `json:"low_mm,omitempty"`  // its face lies that much farther away than those of the others
	Off      float64    `json:"off_mm,omitempty"`  // it lies that much beside the place of the hole it belongs to
	Round    *FitHole   `json:"round,omitempty"`   // of a nut pocket: the round hole that leads to it
}

// Unlisted is a set of holes in two parts that look made for one kind of screw and are used by no fastener.
type Unlisted struct {
	Variant   string  `json:"variant"`
	Through   string  `json:"through"`
	Into      string  `json:"into"`
	Size      string  `json:"size"`
	Count     int     `json:"count"`
	Role      string  `json:"role"`         // of the holes in Into
	Diameter  float64 `json:"diameter_mm"`  // of those in Into
	Clearance float64 `json:"clearance_mm"` // of those in Through
	// Where they lie in one pattern with those of a fastener: which, how many of it the list has for this pattern,
	// and how many holes the pattern has, over all copies of the parts. Count is of one copy.
	Fastener string `json:"fastener,omitempty"`
	Listed   int    `json:"listed,omitempty"`
	Holes    int    `json:"holes,omitempty"`
	Copies   int    `json:"copies,omitempty"`
}
