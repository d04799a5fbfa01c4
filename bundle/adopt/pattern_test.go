package adopt

import "testing"

// Each pattern compiles: a wrong one would be found only when a folder first asks for it.
func TestPatterns(t *testing.T) {
	for _, p := range patterns {
		p.MatchString("4x M3x10")
	}
	if len(patterns) < 50 {
		t.Errorf("%d patterns: they are not all made by lazily", len(patterns))
	}
	n := len(patterns)
	defer func() {
		patterns = patterns[:n]
		if recover() == nil {
			t.Error("a wrong expression is taken")
		}
	}()
	(&pattern{lazily("(").compiled}).MatchString("x")
}
