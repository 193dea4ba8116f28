"""The build sheet of one vehicle, its stations and doors, and what its fittings together bring."""
