package hardware

import "math"

// InsertOuters is the span of outer diameters, mm, that published tables of heat-set inserts give for a thread. ok
// is false for a thread without any row.
func InsertOuters(size Size) (r Range, from Provenance, ok bool) {
	r.Low = math.Inf(1)
	from = Provenance{Table: "insert"}
	for _, x := range table("insert").Rows {
		o, known := x.Number("outer")
		if !known || x.Text("size") != string(size) {
			continue
		}
		r.Low, r.High, r.Known = min(r.Low, o), max(r.High, o), true
		from.Confidence = weaker(from.Confidence, x.Confidence)
		from.Sources = addNew(from.Sources, x.Sources...)
	}
	if !r.Known {
		return Range{}, Provenance{}, false
	}
	return r, from, true
}
