package toolpath

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
)

// FuzzRead: no input panics, hangs or gives a total that is not a number; errors carry a line.
func FuzzRead(f *testing.F) {
	for _, s := range []string{
		"G90\nM82\nG1 Z0.2 F600\nG1 X10 E1\nG1 X20 E2.5\n",
		"G20\nG91\nG0 X1 F20\nG3 X-1 Y1 I-1 E.5\nG2 X1 Y1 R-2 Z.1 E1\n",
		"N3 T0*57\nN4 G1 X10 E1 F600*81\n; c\n(c) G4 P10\nM221 S90\nM200 D1.75\n",
		plate(20, 10, 2, 0.3),
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		r, err := Read(bytes.NewReader(data), bench)
		if err != nil {
			var e *LineError
			if !errors.As(err, &e) && !errors.Is(err, ErrNoFilament) {
				t.Fatalf("error without a line: %v", err)
			}
			return
		}
		for _, v := range []float64{r.Filament, r.Retracted, r.Seconds, r.Min[0], r.Max[2], r.BodyMin[1]} {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Fatalf("not a number in %+v", r)
			}
		}
		if r.Seconds < 0 || r.Filament <= 0 || r.Retracted < 0 || r.Min[0] > r.Max[0] {
			t.Fatalf("impossible: %+v", r)
		}
		r.Misfits(Shape{Size: [3]float64{1, 1, 1}})
	})
}

func BenchmarkRead(b *testing.B) {
	var s strings.Builder
	s.WriteString("G90\nM83\nG1 Z.2 F3000\n")
	for i := 0; s.Len() < 10<<20; i++ {
		y, x := math.Sincos(float64(i) * 0.05)
		if i%500 == 0 {
			fmt.Fprintf(&s, "G1 E-0.8 F2100\nG1 Z%.2f F9000\nG0 X%.3f Y%.3f\nG1 E0.8 F2100\n;LAYER\nG1 F3000\n", 0.2+0.2*float64(i/5000), 100+x, 100+y)
		}
		r := 10 + float64(i%40)
		fmt.Fprintf(&s, "G1 X%.3f Y%.3f E%.5f\n", 100+r*x, 100+r*y, 0.02)
	}
	text := s.String()
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Read(strings.NewReader(text), bench); err != nil {
			b.Fatal(err)
		}
	}
}
