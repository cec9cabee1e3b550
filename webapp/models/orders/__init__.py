"""Tables of orders: customers, flutes, prices, payments, promises, repairs, the workshop's rates."""
