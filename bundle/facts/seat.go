package facts

import "dropwright/bundle/finding"

// Boards is what was worked out of a design's boards, fans and wires. Lengths are millimetres; a figure that is
// nil is not bounded or not known, as its comment says.
type Boards struct {
	Profiles []BoardProfile `json:"profiles,omitempty"` // the profiles used, sorted by id
	Seats    []Seat         `json:"seats,omitempty"`    // in the order of variants, then of their boards
	Fans     []FanSeat      `json:"fans,omitempty"`     // in the order of variants, then of the bought parts
	Wires    []Wire         `json:"wires,omitempty"`    // in the order of variants, then of the rows
	Pins     []PinConstant  `json:"pins,omitempty"`     // of the firmware file that the manifest names
}

// BoardProfile is a board profile that the design names.
type BoardProfile struct {
	ID     string            `json:"id"` // as the manifest writes it
	Error  string            `json:"error,omitempty"`
	Faults []finding.Finding `json:"faults,omitempty"` // what is wrong in a profile of the design's own
}

// The states of a seat.
const (
	SeatFound    = "found"    // by the holes
	SeatTyped    = "typed"    // written in the manifest
	SeatNone     = "none"     // no holes fit
	SeatMirrored = "mirrored" // the holes are the mirror image of the mounts
	SeatUnknown  = "unknown"  // could not be looked for; Missing says why
)

// Pose is where a board lies in a part: the place of its origin (lower left corner of its top face), the turn
// of its x axis about the direction that the board looks to, and which side looks there.
type Pose struct {
	At       [3]float64 `json:"at_mm"`
	Turn     float64    `json:"turn"`        // degrees, counter-clockwise seen against Out
	Face     string     `json:"face"`        // "up": the component side looks along Out; "down": the underside does
	Out      [3]float64 `json:"out"`         // unit vector from the mounts' material to the board, in the part's frame
	Residual float64    `json:"residual_mm"` // largest distance of a mount from its hole; 0 for a typed seat
}

// Seat is one board of one variant in the part it sits in.
type Seat struct {
	Variant string `json:"variant"`
	Board   string `json:"board"`
	Profile string `json:"profile"`
	Part    string `json:"part"`
	Mesh    string `json:"mesh,omitempty"`
	State   string `json:"state"`
	*Pose
	Found     *Pose       `json:"found,omitempty"`   // for a typed seat: the one that the holes give
	Others    []Pose      `json:"others,omitempty"`  // further seats that fit as well: the seat is ambiguous
	Turned    bool        `json:"turned,omitempty"`  // turned by 180 degrees it fits the cavity too, but not the holes
	Nearest   *Misfit     `json:"nearest,omitempty"` // for none: what came nearest
	Mounts    []SeatMount `json:"mounts,omitempty"`
	Sides     []SideGap   `json:"sides,omitempty"`
	Gap       *float64    `json:"gap_mm,omitempty"` // smallest distance of the outline from material beside it; nil: nothing beside it
	GapAt     *[2]float64 `json:"gap_at_mm,omitempty"`
	NeedGap   float64     `json:"need_gap_mm"`
	Inside    bool        `json:"inside,omitempty"` // material of the part lies where the board is
	Above     *Room       `json:"above,omitempty"`
	Below     *Room       `json:"below,omitempty"`
	Keepouts  []KeepRoom  `json:"keepouts,omitempty"`
	Ports     []PortFit   `json:"ports,omitempty"`
	Crowded   []PlugPair  `json:"crowded,omitempty"` // plugs that do not go in beside one another
	Headers   []Reach     `json:"headers,omitempty"`
	OtherPart []string    `json:"other_parts,omitempty"` // parts that were taken into account because their place is known
	Unplaced  []string    `json:"unplaced,omitempty"`    // parts of the variant whose place is not known
	Missing   []string    `json:"missing,omitempty"`     // what could not be worked out, each with the figure it wants
	Weak      []string    `json:"weak,omitempty"`        // figures that a finding must own up to
}

// Misfit is the pattern of holes that came nearest to a board's mounts.
type Misfit struct {
	Fit    int         `json:"fit"`    // mounts that meet a hole
	Of     int         `json:"of"`     // mounts
	Off    float64     `json:"off_mm"` // farthest distance of a mount from its hole, among those with one
	Mounts []SeatMount `json:"mounts"`
}

// SeatMount is one mount of a board.
type SeatMount struct {
	ID      string      `json:"id"`
	Met     bool        `json:"met"`                 // a hole lies under it
	Off     *float64    `json:"off_mm,omitempty"`    // distance of its centre from the hole's; nil: there is none near
	Hole    *[3]float64 `json:"hole_mm,omitempty"`   // the hole's opening, in the part's frame
	Passes  float64     `json:"passes_mm,omitempty"` // the hole's diameter
	Lower   *float64    `json:"lower_mm,omitempty"`  // how far the hole's rim lies below the board's face
	Play    *float64    `json:"play_mm,omitempty"`   // how far a screw lets it be off: (hole - screw) / 2
	Support float64     `json:"support_mm2"`         // material that touches the board within the land
}

// SideGap is the free way from one edge of a board.
type SideGap struct {
	Side string   `json:"side"`              // "-x", "+x", "-y", "+y" of the board
	Free *float64 `json:"free_mm,omitempty"` // nil: nothing in the way
}

// Room is the space over or under a board.
type Room struct {
	Free  *float64    `json:"free_mm,omitempty"`  // height of the nearest material; nil: none
	Short *Intrusion  `json:"short,omitempty"`    // where parts of the board may need more
	Limit *float64    `json:"limit_mm,omitempty"` // most that the profile lets parts stand off; nil: not known
	At    *[3]float64 `json:"at_mm,omitempty"`    // of the nearest material, in the board's frame
}

// Intrusion is the worst place where material stands in a space that is to be free.
type Intrusion struct {
	Free  float64    `json:"free_mm"`
	Need  float64    `json:"need_mm"`
	At    [3]float64 `json:"at_mm"` // in the board's frame
	Basis string     `json:"basis,omitempty"`
}

// KeepRoom is a keepout of a board and what stands in it.
type KeepRoom struct {
	ID      string     `json:"id"`
	Side    string     `json:"side"`
	Reason  string     `json:"reason,omitempty"`
	Antenna bool       `json:"antenna,omitempty"`
	Hit     *Intrusion `json:"hit,omitempty"`
	Basis   string     `json:"basis,omitempty"`
}

// Reach is whether a header can be got at.
type Reach struct {
	ID     string      `json:"id"`
	Access string      `json:"access"`
	Hit    *[3]float64 `json:"hit_mm,omitempty"` // material over it, in the board's frame
}
