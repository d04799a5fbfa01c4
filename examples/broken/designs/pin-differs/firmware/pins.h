// Pins of the lamp.
#define LAMP_PIN 4
