package facts

// Wire is one row of the wiring in one variant, both ends looked up. Volts and amperes.
type Wire struct {
	Variant string `json:"variant"`
	Row     int    `json:"row"` // index into the manifest's rows
	From    End    `json:"from"`
	To      End    `json:"to"`
}

// The kinds of an end.
const (
	EndLead = "lead" // a lead of a bought part
	EndPin  = "pin"  // a pin of a board
	EndRail = "rail" // any pin of a board's rail
)

// End is one end of a wire.
type End struct {
	Text   string   `json:"text"` // as the manifest writes it
	Kind   string   `json:"kind"`
	Thing  string   `json:"thing"`            // bought part or board
	Lead   string   `json:"lead,omitempty"`   // of the bought part
	Role   string   `json:"role,omitempty"`   // of the lead; "" when the manifest does not say
	Pin    string   `json:"pin,omitempty"`    // "low-speed.37"
	Signal string   `json:"signal,omitempty"` // on the pin; "" when the profile does not say
	Rail   *Rail    `json:"rail,omitempty"`
	Pins   []string `json:"pins,omitempty"`         // pins of the rail
	Level  *float64 `json:"signal_volts,omitempty"` // of a signal pin
	Error  string   `json:"error,omitempty"`        // why it could not be looked up
	Hint   string   `json:"hint,omitempty"`
}

// Rail is a supply rail of a board. A nil figure is not known.
type Rail struct {
	ID       string   `json:"id"`
	Role     string   `json:"role"` // input, output, return
	Volts    *float64 `json:"volts,omitempty"`
	VoltsMin *float64 `json:"volts_min,omitempty"`
	VoltsMax *float64 `json:"volts_max,omitempty"`
	Amps     *float64 `json:"amps,omitempty"`
	Watts    *float64 `json:"watts,omitempty"`
	AC       bool     `json:"ac,omitempty"`
	Hazard   string   `json:"hazard,omitempty"`
	Basis    string   `json:"basis,omitempty"` // of the limit, where it is weak or derived
}

// PinConstant is a named number or text of a firmware file.
type PinConstant struct {
	Line  int    `json:"line"`
	Name  string `json:"name"`
	Value string `json:"value"`
}
