package estimate

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// mostVariations bounds a what-if table; more rows than this decide nothing.
const mostVariations = 200

// settable lists the names that Set knows, as in the JSON of a measure.
var settable = []string{"layer", "first_layer", "line", "walls", "solid_top", "solid_bottom", "infill", "supports", "limit_angle", "support_density", "brim", "material", "density", "diameter"}

// Set changes one setting by its name in JSON; shares are in percent ("15", "15 %"), supports "none" or
// "needed", lengths in mm. It fails on unknown names and on values that are none; ranges are Check's.
func (s *Settings) Set(name, value string) error {
	name = strings.ReplaceAll(name, "-", "_")
	value = strings.TrimSpace(value)
	number := func(units ...string) (float64, error) {
		text := value
		for _, u := range units {
			text = strings.TrimSpace(strings.TrimSuffix(text, u))
		}
		v, err := strconv.ParseFloat(text, 64)
		if err != nil {
			return 0, fmt.Errorf("%s %q is not a number", name, value)
		}
		return v, nil
	}
	set := func(field *float64, per float64, units ...string) error {
		v, err := number(units...)
		if err == nil {
			*field = v / per
		}
		return err
	}
	count := func(field *int) error {
		v, err := strconv.Atoi(value)
		if err != nil {
			return fmt.Errorf("%s %q is not a whole number", name, value)
		}
		*field = v
		return nil
	}
	switch name {
	case "layer":
		// A first layer that is as the others stays so.
		follows := s.FirstLayer == s.Layer
		err := set(&s.Layer, 1, "mm")
		if follows {
			s.FirstLayer = s.Layer
		}
		return err
	case "first_layer":
		return set(&s.FirstLayer, 1, "mm")
	case "line":
		return set(&s.Line, 1, "mm")
	case "walls":
		return count(&s.Walls)
	case "solid_top":
		return count(&s.SolidTop)
	case "solid_bottom":
		return count(&s.SolidBottom)
	case "infill":
		return set(&s.Infill, 100, "%")
	case "support_density":
		return set(&s.SupportDensity, 100, "%")
	case "limit_angle":
		return set(&s.SupportAngle, 1)
	case "brim":
		return set(&s.Brim, 1, "mm")
	case "density":
		return set(&s.Density, 1, "g/cm3")
	case "diameter":
		return set(&s.Diameter, 1, "mm")
	case "material":
		s.Material = value
		return nil
	case "supports":
		if value != "none" && value != "needed" {
			return fmt.Errorf("supports %q: none or needed", value)
		}
		s.Supports = value == "needed"
		return nil
	}
	return fmt.Errorf("no print setting %q; there are %s", name, strings.Join(settable, ", "))
}

// Try is one setting and the values to try for it.
type Try struct {
	Name   string
	Values []string
}

// ParseTry reads "layer=0.12,0.2,0.28". The values are checked by Variations.
func ParseTry(text string) (Try, error) {
	name, list, ok := strings.Cut(text, "=")
	name = strings.ReplaceAll(strings.TrimSpace(name), "-", "_")
	if !ok || strings.TrimSpace(list) == "" {
		return Try{}, fmt.Errorf("%q: write a setting and its values, like layer=0.12,0.2,0.28", text)
	}
	if !slices.Contains(settable, name) {
		return Try{}, fmt.Errorf("no print setting %q; there are %s", name, strings.Join(settable, ", "))
	}
	return Try{Name: name, Values: strings.Split(list, ",")}, nil
}

// Variation is the present settings with some changed.
type Variation struct {
	Settings
	Values []string // one for each Try, in their order
}

// Variations returns every combination of the tries, the last one changing fastest. It fails on a
// value that Set or Check refuses and on more than 200 combinations.
func Variations(present Settings, tries []Try) ([]Variation, error) {
	list := []Variation{{Settings: present}}
	for _, t := range tries {
		if len(list)*len(t.Values) > mostVariations {
			return nil, fmt.Errorf("more than %d combinations to try; try fewer values", mostVariations)
		}
		var next []Variation
		for _, v := range list {
			for _, value := range t.Values {
				w := Variation{Settings: v.Settings, Values: append(slices.Clone(v.Values), strings.TrimSpace(value))}
				if err := w.Set(t.Name, value); err != nil {
					return nil, err
				}
				next = append(next, w)
			}
		}
		list = next
	}
	for _, v := range list {
		if err := v.Check(); err != nil {
			return nil, err
		}
	}
	return list, nil
}
