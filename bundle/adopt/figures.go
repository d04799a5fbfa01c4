package adopt

import (
	"math"
	"strconv"
	"strings"
)

// figureText prints a figure with up to three digits behind the point.
func figureText(v float64) string {
	return strconv.FormatFloat(math.Round(v*1000)/1000, 'f', -1, 64)
}

// hundredths prints a figure with up to two digits behind the point.
func hundredths(v float64) string { return figureText(math.Round(v*100) / 100) }

// listed joins words as a sentence has them: "a, b and c".
func listed(w []string) string {
	if len(w) < 2 {
		return strings.Join(w, "")
	}
	return strings.Join(w[:len(w)-1], ", ") + " and " + w[len(w)-1]
}
