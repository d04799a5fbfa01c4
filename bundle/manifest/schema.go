package manifest

import (
	"encoding/json"
	"reflect"
	"strings"

	"github.com/invopop/jsonschema"

	"dropwright/bundle/design"
	"dropwright/bundle/finding"
	"dropwright/bundle/source"
	"dropwright/bundle/unit"
)

// SchemaVersion is the major version of the manifest's form; it stands in the schema's id and changes only
// when a manifest that decoded before no longer does.
const SchemaVersion = 1

// Schema returns the JSON Schema (draft 2020-12) of design.yaml, worked out from the types that decode it.
func Schema() []byte {
	return SchemaOf(&design.Design{}, "design", "One week's printable design.", nil)
}

// Scalars says how a scalar type is written, for the types that a caller adds.
type Scalars map[reflect.Type]*jsonschema.Schema

// SchemaOf works out the schema of any type that source.Decode fills.
func SchemaOf(v any, name, title string, more Scalars) []byte {
	s := schemer{scalars: scalars()}
	for t, x := range more {
		s.scalars[t] = x
	}
	root := s.of(reflect.TypeOf(v).Elem())
	root.Version = jsonschema.Version
	root.ID = jsonschema.ID("urn:dropwright:" + name + ":" + string(rune('0'+SchemaVersion)))
	root.Title = title
	out, err := json.MarshalIndent(root, "", "  ")
	if err != nil {
		panic("manifest: a schema of plain values cannot fail to print: " + err.Error())
	}
	return append(out, '\n')
}

type schemer struct{ scalars Scalars }

// scalars is how each scalar type of the model is written. An editor reads unquoted 1.10 as a number, so a
// text admits numbers and booleans too: the decoder keeps them as typed.
func scalars() Scalars {
	number := func(units string) *jsonschema.Schema {
		return &jsonschema.Schema{AnyOf: []*jsonschema.Schema{{Type: "number"}, {Type: "string", Pattern: `^[-+]?[0-9.]+ ?(` + units + `)?$`}}}
	}
	str := func(pattern string) *jsonschema.Schema { return &jsonschema.Schema{Type: "string", Pattern: pattern} }
	typeOf := reflect.TypeOf
	return Scalars{
		typeOf(design.Text("")):     {AnyOf: []*jsonschema.Schema{{Type: "string"}, {Type: "number"}, {Type: "boolean"}}},
		typeOf(design.Name("")):     str(`^[a-z0-9]+(-[a-z0-9]+)*$`),
		typeOf(design.Int(0)):       {Type: "integer", Minimum: "0"},
		typeOf(design.Quantity(0)):  {Type: "number", Minimum: "0"},
		typeOf(design.Bool(false)):  {Type: "boolean"},
		typeOf(design.Revision{}):   str(`^[0-9]+\.[0-9]+\.[0-9]+$`),
		typeOf(design.Date{}):       str(`^[0-9]{4}-[0-9]{2}-[0-9]{2}$`),
		typeOf(design.Path("")):     str(`^[^/\\~][^\\]*$`),
		typeOf(design.Hex("")):      str(`^#[0-9a-fA-F]{6}$`),
		typeOf(design.URL("")):      str(`^https?://`),
		typeOf(design.Currency("")): str(`^[A-Z]{3}$`),
		typeOf(design.Speed(0)):     number("mm/s"),
		typeOf(unit.Length(0)):      number("mm|cm|m|um|µm|in"),
		typeOf(unit.Mass(0)):        number("g|kg|mg"),
		typeOf(unit.Voltage(0)):     number("V|mV"),
		typeOf(unit.Current(0)):     number("mA|A"),
		typeOf(unit.Angle(0)):       number("°|deg"),
		typeOf(unit.Money(0)):       {Type: "number", Minimum: "0"},
		typeOf(unit.Share(0)):       str(`^[0-9.]+ ?%$`),
		typeOf(unit.Duration(0)):    str(`^[0-9dhms .]+$`),
	}
}

func (s schemer) of(t reflect.Type) *jsonschema.Schema {
	if t.Kind() == reflect.Pointer {
		return s.of(t.Elem())
	}
	if x, ok := s.scalars[t]; ok {
		c := *x
		return &c
	}
	v := reflect.New(t).Interface()
	if w, ok := v.(source.Worded); ok {
		var words []any
		for _, x := range w.Words() {
			words = append(words, x)
		}
		return &jsonschema.Schema{Enum: words}
	}
	if k, ok := v.(source.Keyed); ok {
		into, err := k.Entry("1", finding.Place{})
		if err != nil {
			panic("manifest: " + t.String() + " refuses the key 1, which every map of names admits")
		}
		return &jsonschema.Schema{Type: "object", AdditionalProperties: s.of(reflect.TypeOf(into).Elem())}
	}
	var forms []*jsonschema.Schema
	form := func(into any) {
		if into != nil {
			forms = append(forms, s.of(reflect.TypeOf(into).Elem()))
		}
	}
	if f, ok := v.(source.ScalarFormer); ok {
		form(f.ScalarForm())
	}
	if f, ok := v.(source.ListFormer); ok {
		form(f.ListForm())
	}
	if f, ok := v.(source.MapFormer); ok {
		form(f.MapForm())
	}
	switch {
	case len(forms) == 1:
		return forms[0]
	case len(forms) > 1:
		return &jsonschema.Schema{AnyOf: forms}
	case t.Kind() == reflect.Slice:
		return &jsonschema.Schema{Type: "array", Items: s.of(t.Elem())}
	case t.Kind() == reflect.Struct:
		return s.object(t)
	}
	panic("manifest: no schema for " + t.String() + ": add it to the table of scalars")
}

func (s schemer) object(t reflect.Type) *jsonschema.Schema {
	out := &jsonschema.Schema{Type: "object", Properties: jsonschema.NewProperties(), AdditionalProperties: jsonschema.FalseSchema}
	for _, f := range source.Fields(t) {
		x := s.of(t.FieldByIndex(f.Index).Type)
		x.Description = f.Doc
		if f.Example != "" && !strings.ContainsAny(f.Example, "[{") {
			x.Examples = []any{strings.Trim(f.Example, `"`)}
		}
		out.Properties.Set(f.Key, x)
		if f.Required {
			out.Required = append(out.Required, f.Key)
		}
	}
	return out
}
