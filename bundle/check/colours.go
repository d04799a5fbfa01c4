package check

import (
	"fmt"
	"strings"
)

// colours: every printed part has a colour role, and every role a filament of the series.
func colours(in *Input, r *report) {
	roles := in.Design.Colours.Keys()
	for _, p := range in.Design.Parts {
		if p.Role.V == "reference" || p.Colour.Set() {
			continue
		}
		hint := "add colours: {body: …} with a filament of the series, then colour: body here"
		if len(roles) > 0 {
			hint = "add colour: " + roles[0]
		}
		r.add("colour-missing", p.At, "", fmt.Sprintf("%s has no colour", p.Name.V), hint)
	}
	for _, e := range in.Design.Colours.Entries {
		if len(e.Value.Items) == 0 {
			r.add("filament-missing", e.KeyAt, "", fmt.Sprintf("the colour role %q has no filament", e.Key), "choose one of: "+strings.Join(in.House.FilamentNames(), ", "))
		}
	}
}
