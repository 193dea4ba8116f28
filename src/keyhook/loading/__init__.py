"""Will it carry them? Axles, seats, licence, tyres and rack of one loaded vehicle, and the least change that helps."""
