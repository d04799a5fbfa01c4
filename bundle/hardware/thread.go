package hardware

// Thread is a coarse metric thread, ISO 261 and 724. Millimetres; the area mm2.
type Thread struct {
	Size          Size    `json:"size"`
	Nominal       float64 `json:"nominal"`
	Pitch         float64 `json:"pitch"`
	Minor         float64 `json:"minor"` // of the nut: a smaller hole cannot take the screw without cutting
	PitchDiameter float64 `json:"pitch_diameter"`
	Root          float64 `json:"root"`        // of the screw
	StressArea    float64 `json:"stress_area"` // mm2
	OutsideMax    float64 `json:"outside_max"` // of a screw with tolerance 6g
	OutsideMin    float64 `json:"outside_min"`
	Provenance
}

// ThreadOf returns the thread of a size; ok is false where the table has none.
func ThreadOf(s Size) (t Thread, ok bool) {
	r, ok := table("thread").find("size", string(s))
	if !ok {
		return Thread{}, false
	}
	return Thread{
		Size: s, Nominal: r.number("nominal"), Pitch: r.number("pitch"), Minor: r.number("minor"),
		PitchDiameter: r.number("pitch diameter"), Root: r.number("root"), StressArea: r.number("stress area"),
		OutsideMax: r.number("outside max"), OutsideMin: r.number("outside min"), Provenance: r.from(),
	}, true
}

// Clearance is the three rows of ISO 273 for a size: drilled hole diameters in mm.
type Clearance struct {
	Size   Size    `json:"size"`
	Fine   float64 `json:"fine"`
	Medium float64 `json:"medium"`
	Coarse float64 `json:"coarse"`
	Provenance
}

// ClearanceOf returns the clearance holes of a size; ok is false where the table has none.
func ClearanceOf(s Size) (c Clearance, ok bool) {
	r, ok := table("clearance").find("size", string(s))
	if !ok {
		return Clearance{}, false
	}
	return Clearance{Size: s, Fine: r.number("fine"), Medium: r.number("medium"), Coarse: r.number("coarse"), Provenance: r.from()}, true
}
