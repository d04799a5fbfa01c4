package check

// What a new series and a new design begin with, to be written over: neither may go out.
const (
	PlaceholderMaker   = "Your Workshop"
	PlaceholderSummary = "Say in one sentence what it does and for whom."
)

// placeholders: no text is left as a new series or design begins with.
func placeholders(in *Input, r *report) {
	if s := in.Design.Summary; s.V == PlaceholderSummary {
		r.add("placeholder-left", s.At, "", "the summary is still the one that a new design begins with", "say in one sentence what it does and for whom: the sheet and the announcement print it")
	}
	if in.House == nil {
		return
	}
	if m := in.House.Maker.Name; m.V == PlaceholderMaker {
		r.add("placeholder-left", m.At, "", "the maker is still "+PlaceholderMaker, "write your name, or that of your workshop, in maker: in series.yaml")
	}
}
