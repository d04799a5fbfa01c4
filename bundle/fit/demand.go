package fit

import (
	"dropwright/bundle/facts"
	"dropwright/bundle/hardware"
)

// Demands turns joints into wishes for screws, for hardware.FewestSizes: one for each joint whose range of
// lengths is known. design, when it is not "", is put before the fastener's name, so that the joints of many
// designs can be put together; a fastener of several variants is then one demand for each.
func Demands(joints []facts.Joint, design string) []hardware.Demand {
	var out []hardware.Demand
	for _, j := range joints {
		d, err := hardware.ParseDesignation(j.Thing)
		if j.Fits == nil || j.Standard == "" || err != nil {
			continue
		}
		where := j.Fastener
		if design != "" {
			where = design + ": " + j.Fastener
			if j.Variant != "" && j.Variant != "plain" {
				where += " (" + j.Variant + ")"
			}
		}
		longest := j.Fits.Max
		if !j.Fits.Open { // a screw may be a little longer than its name; against a floor that counts
			if t, _, ok := hardware.LengthTolerance(longest); ok {
				longest -= t
			}
		}
		out = append(out, hardware.Demand{Standard: j.Standard, Size: d.Size, Grade: d.Grade, Lengths: hardware.Interval{Min: j.Fits.Min, Max: longest}, Present: j.Length, Count: j.Count, Where: where})
	}
	return out
}
