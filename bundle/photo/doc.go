// Package photo lets a picture into a bundle only decoded, turned upright, scaled and encoded anew,
// so that nothing but its pixels and its colours comes along: no place, no name, no camera, no
// small uncropped copy of it, no bytes behind its end.
//
// It reads JPEG and PNG. Everything else is refused with what to do about it. Never call the
// registry of package image or the opening functions of imaging from here or anywhere: they hand
// untrusted bytes to whatever decoder some import has registered, TIFF and BMP among them. A test
// in this package holds the whole repository to that.
//
// What stays besides the pixels is what says how they are meant: the ICC profile of a JPEG or PNG,
// byte for byte, and sRGB, gAMA, cHRM and cICP of a PNG. A profile holds texts too (its name, its
// maker); they are a device's, not a person's, as a rule, and package privacy looks at them in the
// finished bundle. A profile that does not fit the picture is left out.
//
// The output is the same for the same input and the same build; the standard library's encoders
// change between Go releases.
//
// Conventions: sizes are pixels, width first; orientations are the numbers 1 to 8 of EXIF (CIPA
// DC-008, tag 274), 1 being upright.
package photo
