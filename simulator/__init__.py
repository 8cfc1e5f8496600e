"""A yard with physics of its own that publishes over MQTT and keeps the truth; never imports monitor."""
