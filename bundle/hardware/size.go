package hardware

import (
	"fmt"
	"strconv"
	"strings"
)

// Size is a coarse metric thread by its name: "M3", "M2.5". Only sizes that the thread or the
// clearance table knows come out of ParseSize.
type Size string

// Nominal is the outside diameter in mm, 0 for a Size that is not of the form M3.
func (s Size) Nominal() float64 {
	d, err := strconv.ParseFloat(strings.TrimPrefix(string(s), "M"), 64)
	if err != nil {
		return 0
	}
	return d
}

// Sizes lists the sizes that have a thread table row, smallest first.
func Sizes() []Size {
	var list []Size
	for _, r := range table("thread").Rows {
		list = append(list, Size(r.Text("size")))
	}
	return list
}

// knownSize tells whether any of the two basic tables has the size.
func knownSize(s Size) bool {
	if _, ok := table("thread").find("size", string(s)); ok {
		return true
	}
	_, ok := table("clearance").find("size", string(s))
	return ok
}

// ParseSize reads "M3", "m2.5", "M 3" or "M2,5". The error lists the sizes that are known.
func ParseSize(text string) (Size, error) {
	t := strings.TrimSpace(text)
	if len(t) > maxText {
		return "", fmt.Errorf("%q… is too long for a thread size", t[:20])
	}
	digits, ok := strings.CutPrefix(strings.ToUpper(t), "M")
	digits = strings.ReplaceAll(strings.TrimSpace(digits), ",", ".")
	d, err := parseNumber(digits)
	if !ok || err != nil {
		return "", fmt.Errorf("%q is not a metric thread size; write for example M3", text)
	}
	s := Size("M" + formatNumber(d))
	if !knownSize(s) {
		return "", fmt.Errorf("thread size %q is not in the tables; they know %s", text, sizeList())
	}
	return s, nil
}

// sizeList is the known sizes as text for messages.
func sizeList() string {
	var b strings.Builder
	for _, r := range table("clearance").Rows {
		if b.Len() > 0 {
			b.WriteString(", ")
		}
		b.WriteString(r.Text("size"))
	}
	return b.String()
}

// maxText is the longest text, in bytes, that any parser here looks at: designations are short,
// and a manifest is a stranger's file.
const maxText = 200

// parseNumber reads a plain decimal number: digits and one point, no sign, exponent, or "Inf".
func parseNumber(text string) (float64, error) {
	if text == "" || len(text) > 12 || strings.Trim(text, "0123456789.") != "" {
		return 0, fmt.Errorf("%q is not a number", text)
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return 0, fmt.Errorf("%q is not a number", text)
	}
	return v, nil
}

// formatNumber prints a number without needless zeros: 3, 2.5.
func formatNumber(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// listNumbers prints "8, 10 and 12".
func listNumbers(list []float64) string {
	var b strings.Builder
	for i, v := range list {
		switch {
		case i == 0:
		case i == len(list)-1:
			b.WriteString(" and ")
		default:
			b.WriteString(", ")
		}
		b.WriteString(formatNumber(v))
	}
	return b.String()
}
