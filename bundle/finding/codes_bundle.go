package finding

// Codes about what a bundle would hold.
var _ = register(
	Code{Name: "report-private", Level: Error, Why: "The manifest names reports.jsonl, in which the tool keeps what builders wrote to the maker: their words and often their names would go out with the design. Remove the line; to tell builders of a fault, say so in the text of a change."},
	Code{Name: "bundle-name", Level: Error, Rows: []int{37}, Why: "A file of the bundle would have a name that Windows, macOS or Linux cannot store, or two files would become one on a disk that does not tell Cut.csv from cut.csv, so that builders miss a part. Rename one of them."},
)
