package finding

// Codes about the look of sheets and pages.
var _ = register(
	Code{Name: "accent-faint", Level: Warning, Why: "The accent colour hardly stands out from white paper: its contrast is below the 4.5 to 1 that WCAG 2.2 asks of text (1.4.3), so that rules and marks in it get lost in print and for weak eyes. Take a darker shade of it."},
)
