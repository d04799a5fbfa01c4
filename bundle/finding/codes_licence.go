package finding

// Codes about licences beyond whether there is one. They follow the licences' own words and are no legal advice.
var _ = register(
	Code{Name: "licence-partial", Level: Warning, Rows: []int{86}, Why: "Some files have a licence and others none: the models but not the texts, or the texts but not the code. What has none may not be copied. Give each kind its licence, or one for everything."},
	Code{Name: "licence-other", Level: Warning, Rows: []int{69, 87}, Why: "A text or a 3MF file names another licence than the manifest. With two licences in two places nobody knows which one holds."},
	Code{Name: "terms-extra", Level: Warning, Rows: []int{87}, Why: "The licence says that nobody may add conditions, and `extra_terms` adds one: courts and companies treat such a design as having no clear licence. Word it as a wish, or choose a licence that says what you mean."},
	Code{Name: "source-clash", Level: Error, Rows: []int{88}, Why: "The design rests on work whose licence does not allow what is done here: share-alike work under another licence, non-commercial work under one that allows sale, or changed work that may not be changed. Publish under a licence that fits, ask for leave, or take it out."},
	Code{Name: "source-unlicensed", Level: Warning, Rows: []int{88}, Why: "A credit names somebody's work without its licence, so neither you nor who builds on it can tell what is allowed. Write the SPDX id it was published under."},
	Code{Name: "sell-unclear", Level: Warning, Rows: []int{89}, Why: "May I sell prints? is what builders ask most about licences. This licence is not one of those that answer it, and no extra terms do. Write one plain sentence."},
)
