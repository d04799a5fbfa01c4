package hardware

// SnugGap is the least gap, both sides together in mm, with which two printed parts still go into one another by
// hand: the lower end of a snug fit, from the one source that says what its figures are measured on. Below lies the
// press fit. Common practice: no standard covers prints.
func SnugGap() (total float64, from Provenance, ok bool) {
	for _, r := range table("fit").Rows {
		if r.Text("fit") == "snug" && r.Text("basis") == "total" {
			return r.number("low"), r.from(), true
		}
	}
	return 0, Provenance{}, false
}
