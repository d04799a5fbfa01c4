package finding

// Codes about texts: what they say and the lists do not.
var _ = register(
	Code{Name: "mention-unknown", Level: Warning, Rows: []int{36, 40, 77}, Why: "A text names a file that is not in the folder: it was renamed, or never added. The builder looks for it in vain. Mend the name, or call the part by its own name."},
	Code{Name: "list-differs", Level: Error, Rows: []int{31}, Why: "A table that goes out with the design, or stands in its story, counts an item otherwise than the manifest does. Whoever orders from the one lacks parts of the other. Mend the table, or leave it out: the bill of materials is made from the manifest in every format."},
	Code{Name: "link-broken", Level: Error, Rows: []int{43}, Why: "A link or picture in a text leads to a file that is not there, that no bundle holds, or to a heading that the text does not have. Mend the link, or add the file to extras or photos."},
)
