package hardware

import "testing"

// Every insert that a table knows lies in the span of its thread, and no tenfold of it does.
func TestInsertOuters(t *testing.T) {
	n := 0
	for _, x := range table("insert").Rows {
		o, known := x.Number("outer")
		if !known {
			continue
		}
		n++
		r, from, ok := InsertOuters(Size(x.Text("size")))
		if !ok || o < r.Low || o > r.High || len(from.Sources) == 0 {
			t.Errorf("%s: outer %v, span %+v from %v", x.Text("size"), o, r, from.Sources)
		}
		if o*10 <= r.High || o/10 >= r.Low {
			t.Errorf("%s: ten times %v or a tenth of it is an insert of %+v, too", x.Text("size"), o, r)
		}
	}
	if n < 20 {
		t.Errorf("%d rows with an outer diameter", n)
	}
	// M3 inserts of four sources are 4.4 to 4.6 wide; a wide one has 5.0 (BDW).
	if r, _, _ := InsertOuters("M3"); r.Low > 4.4 || r.High < 5 {
		t.Errorf("M3: %+v", r)
	}
	if _, _, ok := InsertOuters("M77"); ok {
		t.Error("there are no inserts M77")
	}
}
