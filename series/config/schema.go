package config

import (
	"reflect"

	"github.com/invopop/jsonschema"

	"dropwright/bundle/manifest"
)

// Schema returns the JSON Schema (draft 2020-12) of series.yaml, worked out from the types that decode it.
func Schema() []byte {
	str := func(pattern string) *jsonschema.Schema { return &jsonschema.Schema{Type: "string", Pattern: pattern} }
	return manifest.SchemaOf(&Series{}, "series", "A series: calendar, printers, filaments, channels.", manifest.Scalars{
		reflect.TypeOf(ClockTime(0)): str(`^[0-2][0-9]:[0-5][0-9]$`),
		reflect.TypeOf(Days(0)):      str(`^[0-9]+ (days?|weeks?)$`),
		reflect.TypeOf(Zone("")):     str(`^(UTC|[A-Za-z_]+/[A-Za-z0-9_+/-]+)$`),
		reflect.TypeOf(Bytes(0)):     {AnyOf: []*jsonschema.Schema{{Type: "integer"}, {Type: "string", Pattern: `^[0-9.]+ (B|kB|MB|GB|KiB|MiB|GiB)$`}}},
	})
}
