package facts

// The verdicts on a port.
const (
	PortFree    = "free"    // the largest plug body passes
	PortTight   = "tight"   // small plugs only
	PortBlocked = "blocked" // no plug reaches the receptacle
	PortUnknown = "unknown" // a figure is missing
)

// PortFit is one port of a seated board for one kind of connector.
type PortFit struct {
	ID        string      `json:"id"`
	Connector string      `json:"connector"`
	Other     bool        `json:"other,omitempty"` // an alternative to the port's own connector
	Required  bool        `json:"required,omitempty"`
	Verdict   string      `json:"verdict"`
	Plug      [2]float64  `json:"plug_mm"`                 // width and height of the largest plug body
	Round     bool        `json:"round,omitempty"`         // Plug is a diameter
	Clearance float64     `json:"clearance_mm"`            // least distance of material from the plug body; 0: touches or blocked
	Need      float64     `json:"need_mm"`                 // least clearance for a free plug
	Blocked   float64     `json:"blocked"`                 // share of the plug's section that material covers, 0 to 1
	Opening   *Window     `json:"opening,omitempty"`       // what is free around the plug's axis
	Travel    [4]*float64 `json:"travel_mm"`               // free way of the plug body to the left, right, down, up, seen from the board; nil: open
	Setback   *float64    `json:"setback_mm,omitempty"`    // from the receptacle's face to the outer face of what is in the plug's way
	MaySet    float64     `json:"may_set_mm,omitempty"`    // set-back up to which the small opening does; 0: not known
	Strict    float64     `json:"strict_set_mm,omitempty"` // the same by a stricter source, where two differ
	Body      bool        `json:"body_hit,omitempty"`      // material stands where the receptacle itself is
	Axis      [3]float64  `json:"axis_mm"`                 // of the plug, in its mating plane, in the part's frame
	Missing   []string    `json:"missing,omitempty"`
	Weak      []string    `json:"weak,omitempty"`
}

// Window is what is free around a plug's axis, through everything that stands before the port: the way along
// the board's edge and the way up and down. nil: open.
type Window struct {
	Left  *float64 `json:"left_mm,omitempty"`
	Right *float64 `json:"right_mm,omitempty"`
	Down  *float64 `json:"down_mm,omitempty"`
	Up    *float64 `json:"up_mm,omitempty"`
}

// PlugPair is two ports whose largest plugs overlap.
type PlugPair struct {
	A       string   `json:"a"`
	B       string   `json:"b"`
	Overlap float64  `json:"overlap_mm"`
	Weak    []string `json:"weak,omitempty"`
}

// FanSeat is a square fan at the part it is screwed to.
type FanSeat struct {
	Variant string   `json:"variant"`
	Fan     string   `json:"fan"`
	Part    string   `json:"part,omitempty"`
	Mesh    string   `json:"mesh,omitempty"`
	Frame   float64  `json:"frame_mm"`
	Pitch   float64  `json:"pitch_mm,omitempty"`   // of the fan's holes, from the tables; 0: not known
	Found   float64  `json:"found_mm,omitempty"`   // pitch of the nearest square of holes in the part; 0: none
	Off     float64  `json:"off_mm,omitempty"`     // farthest hole from its place on that square
	Opening *float64 `json:"opening_mm,omitempty"` // diameter, or shorter side, of the opening in the middle; nil: none
	Centred float64  `json:"centred_mm,omitempty"` // how far its middle lies from that of the holes
	Basis   string   `json:"basis,omitempty"`
	Weak    bool     `json:"weak,omitempty"`
	Missing []string `json:"missing,omitempty"`
}
