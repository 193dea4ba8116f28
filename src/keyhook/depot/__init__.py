"""A depot as a folder of plain text: place, staff, build sheets, vehicles, hires and tariff; and one day of it."""
