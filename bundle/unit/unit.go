// Package unit holds the quantities of a design as types, so that grams cannot be added to
// millimetres, and reads and prints them with their units.
//
// Conventions: a value is kept in the unit named by its type's comment; text is read in the C locale
// (a decimal comma is refused with a hint); a unit may be left out where the type has a default one.
package unit

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Length is millimetres. Without a unit, text means millimetres.
type Length float64

// Mass is grams. Without a unit, text means grams.
type Mass float64

// Voltage is volts.
type Voltage float64

// Current is milliamperes.
type Current float64

// Share is a part of one: 15 % is 0.15. Text must carry the % sign, so that 15 and 0.15 cannot be confused.
type Share float64

// Angle is degrees.
type Angle float64

// Money is an amount in the series' currency; text is a plain number.
type Money float64

// Duration is seconds. It is not time.Duration: a print of weeks is fine, nanoseconds are not needed.
type Duration float64

// String prints the length with its unit, without trailing zeros: "0.2 mm".
func (l Length) String() string { return Number(float64(l)) + " mm" }

// String prints the mass to a tenth of a gram below 100 g and whole grams above: "41.3 g".
func (m Mass) String() string {
	if math.Abs(float64(m)) >= 100 {
		return strconv.FormatFloat(float64(m), 'f', 0, 64) + " g"
	}
	return strconv.FormatFloat(float64(m), 'f', 1, 64) + " g"
}

// String prints the voltage: "4.8 V".
func (v Voltage) String() string { return Number(float64(v)) + " V" }

// String prints the current: "250 mA".
func (c Current) String() string { return Number(float64(c)) + " mA" }

// String prints the share in percent: "15 %".
func (s Share) String() string { return Number(float64(s)*100) + " %" }

// String prints the angle: "45°".
func (a Angle) String() string { return Number(float64(a)) + "°" }

// String prints the amount with two decimals and no currency: "4.20".
func (m Money) String() string { return strconv.FormatFloat(float64(m), 'f', 2, 64) }

// String prints hours and minutes: "4h20m"; under a minute, seconds.
func (d Duration) String() string {
	s := math.Round(float64(d))
	if s < 60 {
		return strconv.FormatFloat(s, 'f', 0, 64) + "s"
	}
	m := int64(math.Round(s / 60))
	if m < 60 {
		return fmt.Sprintf("%dm", m)
	}
	return fmt.Sprintf("%dh%02dm", m/60, m%60)
}

// SetText reads a length such as "0.2", "0.2 mm", "3 cm" or "0.25 in".
func (l *Length) SetText(s string, quoted bool) error {
	v, err := quantity(s, "a length such as 0.2 or 0.2 mm", "mm",
		map[string]float64{"mm": 1, "cm": 10, "m": 1000, "um": 0.001, "µm": 0.001, "in": 25.4})
	*l = Length(v)
	return err
}

// SetText reads a mass such as "41", "41 g" or "1 kg".
func (m *Mass) SetText(s string, quoted bool) error {
	v, err := quantity(s, "a mass such as 41 or 41 g", "g", map[string]float64{"g": 1, "kg": 1000, "mg": 0.001})
	*m = Mass(v)
	return err
}

// SetText reads a voltage such as "5", "5 V" or "600 mV".
func (v *Voltage) SetText(s string, quoted bool) error {
	x, err := quantity(s, "a voltage such as 5 or 5 V", "V", map[string]float64{"V": 1, "mV": 0.001})
	*v = Voltage(x)
	return err
}

// SetText reads a current such as "250", "250 mA" or "1.2 A".
func (c *Current) SetText(s string, quoted bool) error {
	x, err := quantity(s, "a current such as 250 or 250 mA", "mA", map[string]float64{"mA": 1, "A": 1000})
	*c = Current(x)
	return err
}

// SetText reads an angle such as "90" or "90 deg".
func (a *Angle) SetText(s string, quoted bool) error {
	x, err := quantity(s, "an angle in degrees such as 90", "°", map[string]float64{"°": 1, "deg": 1})
	*a = Angle(x)
	return err
}

// SetText reads a plain amount such as "24.00".
func (m *Money) SetText(s string, quoted bool) error {
	x, err := quantity(s, "a plain amount such as 4.20, in the series' currency", "", nil)
	if err == nil && x < 0 {
		err = fmt.Errorf("expected an amount of 0 or more, found %q", s)
	}
	*m = Money(x)
	return err
}

// SetText reads a share such as "15 %"; the sign is required.
func (s *Share) SetText(t string, quoted bool) error {
	body, ok := strings.CutSuffix(strings.TrimSpace(t), "%")
	if !ok {
		return fmt.Errorf("expected a share such as 15 %%, with the %% sign, found %q", t)
	}
	v, err := ParseNumber(strings.TrimSpace(body))
	if err != nil {
		return fmt.Errorf("expected a share such as 15 %%: %w", err)
	}
	if v < 0 || v > 100 {
		return fmt.Errorf("expected a share from 0 %% to 100 %%, found %q", t)
	}
	*s = Share(v / 100)
	return nil
}

// SetText reads a time such as "4h20m", "2h35", "35m", "90s" or "1d 4h".
func (d *Duration) SetText(s string, quoted bool) error {
	v, err := ParseDuration(s)
	*d = v
	return err
}

// ParseDuration reads "4h20m", "2h35", "35m", "90s", "1d4h". A bare number is refused: hours or minutes?
func ParseDuration(s string) (Duration, error) {
	bad := fmt.Errorf("expected a time such as 4h20m, found %q", s)
	rest := strings.ReplaceAll(strings.TrimSpace(s), " ", "")
	if rest == "" {
		return 0, bad
	}
	order := "dhms"
	size := map[byte]float64{'d': 86400, 'h': 3600, 'm': 60, 's': 1}
	total, last := 0.0, -1
	for rest != "" {
		n := 0
		for n < len(rest) && (rest[n] >= '0' && rest[n] <= '9' || rest[n] == '.') {
			n++
		}
		if n == 0 {
			return 0, bad
		}
		v, err := ParseNumber(rest[:n])
		if err != nil {
			return 0, bad
		}
		if n == len(rest) { // "2h35": the unit after hours is minutes
			if last != 1 {
				return 0, bad
			}
			total += v * 60
			break
		}
		at := strings.IndexByte(order, rest[n])
		if at <= last {
			return 0, bad
		}
		total += v * size[rest[n]]
		last = at
		rest = rest[n+1:]
	}
	if math.IsInf(total, 0) || total > 1e9 {
		return 0, fmt.Errorf("expected a time below 1e9 s, found %q", s)
	}
	return Duration(total), nil
}

// Count is a number of things in words: "1 error", "2 errors". word is one of them, in English, and its plural takes
// an s.
func Count(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	return strconv.Itoa(n) + " " + word + "s"
}

// Number prints x with up to four decimals and no trailing zeros.
func Number(x float64) string {
	s := strconv.FormatFloat(x, 'f', 4, 64)
	s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	if s == "-0" || s == "" {
		return "0"
	}
	return s
}

// ParseNumber reads a plain decimal number: digits, an optional sign, a decimal point. It refuses what
// YAML readers silently reinterpret (hexadecimal, octal, underscores, infinities) and a decimal comma.
func ParseNumber(s string) (float64, error) {
	body := strings.TrimLeft(s, "+-")
	if len(s)-len(body) > 1 || body == "" {
		return 0, fmt.Errorf("expected a number, found %q", s)
	}
	if strings.Count(body, ",") == 1 && strings.Trim(body, "0123456789,") == "" {
		return 0, fmt.Errorf("expected a number, found %q: write a decimal point: %s", s, strings.Replace(s, ",", ".", 1))
	}
	if strings.Trim(body, "0123456789.") != "" || strings.Count(body, ".") > 1 || body == "." {
		return 0, fmt.Errorf("expected a number, found %q", s)
	}
	if len(body) > 1 && body[0] == '0' && body[1] != '.' {
		return 0, fmt.Errorf("expected a number without leading zeros, found %q", s)
	}
	if len(body) > 30 {
		return 0, fmt.Errorf("expected a number of up to 30 digits, found %d", len(body))
	}
	return strconv.ParseFloat(s, 64)
}

// quantity splits "12.5 mm" into number and unit; an absent unit means the default.
func quantity(s, want, def string, units map[string]float64) (float64, error) {
	t := strings.TrimSpace(s)
	n := len(t)
	for n > 0 && !(t[n-1] >= '0' && t[n-1] <= '9' || t[n-1] == '.') {
		n--
	}
	num, u := t[:n], strings.TrimSpace(t[n:])
	if num == "" {
		return 0, fmt.Errorf("expected %s, found %q", want, s)
	}
	factor := 1.0
	if u != "" && u != def {
		f, ok := units[u]
		if !ok {
			return 0, fmt.Errorf("expected %s, found the unit %q in %q", want, u, s)
		}
		factor = f
	}
	v, err := ParseNumber(num)
	if err != nil {
		return 0, fmt.Errorf("expected %s: %w", want, err)
	}
	if math.Abs(v*factor) > 1e9 {
		return 0, fmt.Errorf("expected %s below 1e9, found %q", want, s)
	}
	return v * factor, nil
}
